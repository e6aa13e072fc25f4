"""The spec of a drum on the command line: the frozen one of a shell, or that of a drum model as the recipes stand now."""

from __future__ import annotations

import json
from argparse import ArgumentParser
from collections.abc import Iterator
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from routing.freezing import drum_inputs
from routing.models import DrumModel, Finish, Shell, ShellSpec, Shop
from routing.specs.check_character import read_serial
from routing.specs.errors import SpecError
from routing.specs.jsonable import to_json
from routing.specs.sheet import FORMULA_VERSION, compute_sheet


class Command(BaseCommand):
    help = "Print the frozen spec of a shell (SERIAL), or of a drum model in a finish (--model, --finish)."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("serial", nargs="?")
        parser.add_argument("--revision", type=int, help="an older revision of the shell's spec")
        parser.add_argument("--model", help="code of a drum model instead of a serial number")
        parser.add_argument("--finish", help="name of the finish for --model")
        parser.add_argument("--json", action="store_true", help="as JSON instead of a table")

    def handle(self, *args: Any, **options: Any) -> None:
        if bool(options["serial"]) == bool(options["model"]):
            raise CommandError("Give either a serial number or --model with --finish.")
        try:
            spec = _of_shell(options) if options["serial"] else _of_model(options)
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
    finish = Finish.objects.filter(name__iexact=options["finish"] or "").first()
    if finish is None:
        names = ", ".join(
            Finish.objects.filter(kind=model.line.finish_kind, is_active=True).values_list("name", flat=True)
        )
        raise CommandError(f"Name the finish with --finish; for this drum: {names}.")
    inputs = drum_inputs(model, finish, Shop.current())
    return {
        "drum": f"{model}, {finish}",
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
