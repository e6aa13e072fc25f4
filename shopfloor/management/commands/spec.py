"""The spec of a drum on the command line: the frozen one of a shell, or that of a drum model as the recipes stand now."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from collections.abc import Iterator
from typing import Any

from django.core.management.base import CommandError
from django.db.models import QuerySet

from routing.freezing import drum_inputs
from routing.models import DrumModel, EdgeProfile, Finish, HardwareSet, LayUp, Shell, ShellSpec, Shop
from routing.models.recipes import NamedRecipe
from routing.shop_command import ShopCommand
from routing.specs.check_character import read_serial
from routing.specs.errors import SpecError
from routing.specs.inputs import Role
from routing.specs.jsonable import to_json
from routing.specs.sheet import FORMULA_VERSION, compute_sheet

_RECIPES: dict[str, type[NamedRecipe]] = {
    "lay-up": LayUp,
    "hardware": HardwareSet,
    "batter-edge": EdgeProfile,
    "resonant-edge": EdgeProfile,
}


class Command(ShopCommand):
    help = (
        "Print the frozen spec of a shell (SERIAL), of a drum model in a finish (--model, --finish), or of any size and "
        "recipe (--size, --role, --lay-up, --finish, --hardware, --batter-edge, --resonant-edge)."
    )

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("serial", nargs="?")
        parser.add_argument("--revision", type=int, help="an older revision of the shell's spec")
        parser.add_argument("--model", help="code of a drum model instead of a serial number")
        parser.add_argument("--finish", help="name of the finish for --model or --size")
        parser.add_argument("--size", metavar="DIAMETERxDEPTH", help="any size in inches instead, for example 14x5.5")
        parser.add_argument("--role", choices=[role.value for role in Role], help="for --size")
        for name in _RECIPES:
            parser.add_argument(f"--{name}", metavar="NAME", help="its name in the recipe book; for --size")
        parser.add_argument("--json", action="store_true", help="as JSON instead of a table")

    def handle(self, *args: Any, **options: Any) -> None:
        makers = {"serial": _of_shell, "model": _of_model, "size": _of_size}
        asked = [name for name in makers if options[name]]
        if len(asked) != 1:
            raise CommandError("Give a serial number, or --model with --finish, or --size with its recipes.")
        try:
            spec = makers[asked[0]](options)
        except SpecError as error:
            raise CommandError(error.message) from error
        if options["json"]:
            self.stdout.write(json.dumps(spec, indent=2, ensure_ascii=False))
            return
        for key, value in spec.items():
            if key not in {"inputs", "results"}:
                self.stdout.write(f"{key:20} {value}")
        for place, value in _leaves(spec["results"]):
            self.stdout.write(f"{place:60} {value}")


def _of_shell(options: dict[str, Any]) -> dict[str, Any]:
    serial = read_serial(options["serial"])
    shell = Shell.objects.select_related("model__line", "finish").filter(serial=serial).first()
    if shell is None:
        raise CommandError(f"No drum with the serial number {serial} was made here.")
    revision = options["revision"] or shell.spec_revision
    spec = ShellSpec.objects.filter(shell=shell, revision=revision).first()
    if spec is None:
        raise CommandError(f"{serial} has no spec revision {revision}; the newest is {shell.spec_revision}.")
    return {
        "serial": serial,
        "drum": shell.drum,
        "revision": spec.revision,
        "formula_version": spec.formula_version,
        "issued_at": spec.issued_at.isoformat(),
        "reason": spec.reason,
        "inputs": spec.inputs,
        "results": spec.results,
    }


def _of_model(options: dict[str, Any]) -> dict[str, Any]:
    model = DrumModel.objects.select_related("line").filter(code=options["model"]).first()
    if model is None:
        raise CommandError(f"There is no drum model with the code {options['model']}.")
    finish = _finish(options, Finish.objects.filter(kind=model.line.finish_kind, is_active=True))
    return _computed(f"{model}, {finish}", model, finish)


def _of_size(options: dict[str, Any]) -> dict[str, Any]:
    """A drum that no model describes: a size and the names of its recipes."""
    diameter, depth = _size(options["size"])
    if options["role"] is None:
        raise CommandError("Say what it is with --role: snare, rack_tom, floor_tom or bass.")
    recipes = {name.replace("-", "_"): _recipe(name, kind, options) for name, kind in _RECIPES.items()}
    drum = DrumModel(code="any", role=options["role"], nominal_diameter_in=diameter, nominal_depth_in=depth, **recipes)
    finish = _finish(options, Finish.objects.filter(is_active=True))
    words = f"{diameter:g} × {depth:g} in {drum.get_role_display()}, {drum.lay_up}, {finish}"
    return _computed(words, drum, finish)


def _size(words: str) -> tuple[float, float]:
    try:
        diameter, depth = (float(word) for word in words.lower().replace("×", "x").split("x"))
    except ValueError as error:
        raise CommandError(f"“{words}” is no size; write diameter x depth in inches, for example 14x5.5.") from error
    if not (3 <= diameter <= 40 and 2 <= depth <= 40):
        raise CommandError(
            f"No drum is {diameter:g} × {depth:g} in; diameters of 6 to 40 and depths of 2 to 40 in can be."
        )
    return diameter, depth


def _recipe(name: str, kind: type[NamedRecipe], options: dict[str, Any]) -> Any:
    known: QuerySet[Any] = (
        HardwareSet.objects.filter(is_active=True, role=options["role"])
        if kind is HardwareSet
        else kind._default_manager.filter(is_active=True)
    )
    asked = options[name.replace("-", "_")] or ""
    found = known.filter(name__iexact=asked).first()
    if found is None:
        names = ", ".join(known.values_list("name", flat=True)) or "none in the recipe book yet"
        raise CommandError(f"Name it with --{name}; there are: {names}.")
    return found


def _finish(options: dict[str, Any], known: QuerySet[Finish]) -> Finish:
    finish = known.filter(name__iexact=options["finish"] or "").first()
    if finish is None:
        raise CommandError(
            f"Name the finish with --finish; for this drum: {', '.join(known.values_list('name', flat=True))}."
        )
    return finish


def _computed(words: str, model: DrumModel, finish: Finish) -> dict[str, Any]:
    inputs = drum_inputs(model, finish, Shop.current())
    return {
        "drum": words,
        "formula_version": FORMULA_VERSION,
        "inputs": to_json(inputs),
        "results": to_json(compute_sheet(inputs)),
    }


def _leaves(value: Any, place: str = "") -> Iterator[tuple[str, str]]:
    """Every number and word of a nested result with its dotted place."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield from _leaves(item, f"{place}.{key}" if place else key)
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from _leaves(item, f"{place}.{number}")
    elif isinstance(value, float):
        yield place, f"{value:.6g}"
    elif value is not None:
        yield place, str(value)
