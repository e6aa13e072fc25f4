"""A whole kit: the parts of all its drums, and how they travel. Read from the frozen specs of its shells."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass

from django.utils.translation import gettext as _

from routing.drawing_words import in_words
from routing.drawings.nest_section import NestDrum, nest_section_svg
from routing.models import DrumModel, KitOrder, Shell, ShellSpec, ShellState
from routing.specs.hardware import KitParts, kit_parts
from routing.specs.inputs import DrumInputs
from routing.specs.jsonable import from_json
from routing.specs.mass import PACKING_G_PER_DRUM, carton_gross, carton_mass
from routing.specs.packing import Nest, PackedDrum, PackingPlan, plan_packing
from routing.specs.sheet import as_packed
from routing.specs.shell import ShellGeometry

NOT_IN_KIT = [ShellState.SCRAPPED, ShellState.REMADE]


@dataclass(frozen=True, slots=True)
class Kit:
    parts: KitParts
    packing: PackingPlan
    serials: tuple[tuple[str, ...], ...]  # the drums of each nest, outermost first
    nests: tuple[str, ...]  # a section of each, as SVG
    gross_g: tuple[float, ...]  # of each carton: its drums, their spares, the carton and what pads it


def kit_of(order: KitOrder, *, without: Collection[str] = ()) -> Kit | None:
    """Parts and packing of a released order's drums; None before the release. Scrapped shells are left out, and those
    whose serial numbers are in ``without``, which are packed already.
    """
    every = in_kit_order(Shell.objects.filter(order=order).select_related("model__line"))
    shells = [shell for shell in every if shell.serial not in without]
    if not shells:
        return None
    specs = {spec.shell_id: spec for spec in ShellSpec.objects.filter(shell__in=shells).order_by("revision")}
    drums = []
    serial_of: dict[str, str] = {}
    for shell in shells:
        spec = specs[shell.pk]
        name = name_in_kit(shell)
        serial_of[name] = shell.serial
        geometry = from_json(ShellGeometry, spec.results["shell"])
        drums.append((name, from_json(DrumInputs, spec.inputs), geometry))
    packed = {name: as_packed(inputs, geometry, name=name) for name, inputs, geometry in drums}
    packing = plan_packing(list(packed.values()))
    weights = {
        name: (float(specs[shell.pk].results["mass"]["drum_g"]), float(specs[shell.pk].results["mass"]["spares_g"]))
        for shell, name in zip(shells, packed, strict=True)
    }
    return Kit(
        parts=kit_parts([(name, inputs.hardware) for name, inputs, _ in drums]),
        packing=packing,
        serials=tuple(tuple(serial_of[name] for name in nest.drums) for nest in packing.nests),
        nests=tuple(
            in_words(
                nest_section_svg(
                    [_drawn(packed[name]) for name in nest.drums],
                    carton_side_mm=nest.carton_side_mm,
                    carton_height_mm=nest.carton_height_mm,
                )
            )
            for nest in packing.nests
        ),
        gross_g=tuple(_gross(nest, weights) for nest in packing.nests),
    )


def name_in_kit(shell: Shell) -> str:
    """What a drum is called among those of its kit, in the language that is spoken."""
    return f"{size_and_role(shell.model)} {shell.serial}"


def size_and_role(model: DrumModel) -> str:
    """“14 × 5.5 in snare”, its role in the language that is spoken."""
    return f"{model.size} {_(model.get_role_display())}"


def drum_name(model: DrumModel) -> str:
    """“Heron 14 × 5.5 in snare”, as the model calls itself, its role in the language that is spoken."""
    return f"{model.line.name} {size_and_role(model)}"


def in_kit_order(shells: Iterable[Shell]) -> list[Shell]:
    """Those of an order's shells that its kit is made of, as they were released; a replacement stands in its
    predecessor's place. ``shells`` should be all of the order, the scrapped ones too.
    """
    every = list(shells)
    replaced = {shell.pk: shell.replaces_id for shell in every}

    def place(shell: Shell) -> tuple[int, int]:
        first = shell.pk
        while (earlier := replaced.get(first)) is not None:
            first = earlier
        return first, shell.pk

    return sorted((shell for shell in every if shell.state not in NOT_IN_KIT), key=place)


def _gross(nest: Nest, weights: Mapping[str, tuple[float, float]]) -> float:
    return carton_gross(
        [weights[name][0] for name in nest.drums],
        spares_g=sum(weights[name][1] for name in nest.drums),
        carton_g=carton_mass(nest.carton_side_mm, nest.carton_height_mm),
        packing_g=PACKING_G_PER_DRUM * len(nest.drums),
    )


def _drawn(drum: PackedDrum) -> NestDrum:
    return NestDrum(
        drum.name,
        drum.outside_diameter_mm,
        drum.inside_diameter_mm,
        drum.depth_mm,
        drum.outside_projection_mm,
        drum.inside_projection_mm,
    )
