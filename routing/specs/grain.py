"""Whether a stack of plates keeps its shape and bends into the mould."""

from __future__ import annotations

from collections.abc import Sequence

from routing.specs.errors import SpecWarning
from routing.specs.inputs import Grain, PlateInputs
from routing.specs.sentences import gettext_noop

_NOT_MIRRORED = gettext_noop(
    "The {veneers} veneers do not mirror about the middle of the wall; such a shell may pull out of round."
)
_TOO_TIGHT = gettext_noop(
    "{which} bend along the grain to {ratio} times their thickness: too tight to bend dry. Use thinner plates, or heat "
    "and damp one on a trial piece first."
)
_DAMP = gettext_noop(
    "{which} bend along the grain to {ratio} times their thickness: damp the outer face with a sponge or warm it before "
    "it goes into the mould."
)
_PLATE = gettext_noop("Plate {places}")
_PLATES = gettext_noop("Plates {places}")
_SAME_DIRECTION = gettext_noop(
    "Plates {place} and {next} meet with their grain in the same direction ({grain}); turn one of them."
)

DRY_BEND_RADIUS_PER_THICKNESS = 50.0  # along the grain; from memory
EASY_BEND_RADIUS_PER_THICKNESS = 100.0
_SAME_THICKNESS = 0.15  # veneers that differ by less count as equal


def veneer_grains(plate: PlateInputs) -> tuple[Grain, ...]:
    """Grain of each veneer of a plate, outer first: they alternate, beginning with the face grain."""
    across = Grain.AXIAL if plate.face_grain is Grain.AROUND else Grain.AROUND
    return tuple(plate.face_grain if i % 2 == 0 else across for i in range(plate.veneers))


def balance_warnings(plates: Sequence[PlateInputs]) -> list[SpecWarning]:
    """Neighbouring veneers that run the same way, and stacks whose halves do not mirror each other.

    Cross lamination turns the grain 90° from veneer to veneer and makes the halves mirror images (common practice, no
    source). Two plates of three or more veneers, an odd number each, are balanced in themselves and may meet face to
    face in the same direction. Nominal thicknesses count: a measurement must not change what was designed.
    """
    found = []
    stacks = [veneer_grains(plate) for plate in plates]
    for index in range(len(plates) - 1):
        both_balanced = all(p.veneers >= 3 and p.veneers % 2 == 1 for p in plates[index : index + 2])
        if stacks[index][-1] is stacks[index + 1][0] and not both_balanced:
            found.append(
                SpecWarning(
                    "grain_parallel",
                    f"plates.{index + 1}.face_grain",
                    _SAME_DIRECTION.format(place=index + 1, next=index + 2, grain=stacks[index][-1].value),
                )
            )
    whole = [(g, p.thickness_mm / p.veneers) for p, stack in zip(plates, stacks, strict=True) for g in stack]
    mirrored = all(
        outer[0] is inner[0] and abs(outer[1] - inner[1]) <= _SAME_THICKNESS * max(outer[1], inner[1])
        for outer, inner in zip(whole, reversed(whole), strict=True)
    )
    if not mirrored:
        found.append(
            SpecWarning(
                "not_balanced",
                "plates",
                _NOT_MIRRORED.format(veneers=len(whole)),
            )
        )
    return found


def bend_warnings(plates: Sequence[PlateInputs], inner_radii_mm: Sequence[float]) -> list[SpecWarning]:
    """Plates with the grain around the shell that are bent tighter than 100 times (or 50 times) their thickness.

    From memory: dry wood bends along the grain to 50 to 100 times its thickness. Grain along the axis wraps easily and
    is not checked.
    """
    tight: dict[str, list[tuple[float, int]]] = {"bend_too_tight": [], "bend_damp": []}
    for index, (plate, radius) in enumerate(zip(plates, inner_radii_mm, strict=True)):
        ratio = radius / plate.working_thickness_mm
        if plate.face_grain is Grain.AXIAL or ratio >= EASY_BEND_RADIUS_PER_THICKNESS:
            continue
        tight["bend_too_tight" if ratio < DRY_BEND_RADIUS_PER_THICKNESS else "bend_damp"].append((ratio, index))
    advice = {"bend_too_tight": _TOO_TIGHT, "bend_damp": _DAMP}
    return [
        SpecWarning(
            code,
            f"plates.{min(hits)[1]}.thickness_mm",
            advice[code].format(
                which=(_PLATE if len(hits) == 1 else _PLATES).format(places=", ".join(str(n + 1) for _, n in hits)),
                ratio=f"{min(hits)[0]:.0f}",
            ),
        )
        for code, hits in tight.items()
        if hits
    ]
