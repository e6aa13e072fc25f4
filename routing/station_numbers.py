"""The few numbers that each station needs for one shell, written for people: for the tablet and the traveler alike.

They are read from the frozen spec and never computed again; this is the one place where they are rounded.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from routing.models.route import StationKind
from routing.specs.units import inch_fraction

Results = Mapping[str, Any]
SPINDLE_MM = 0.1  # to which a spindle is set (from memory); the spec says what this much does to the land
BLANK_MM = 0.5  # to which a wrap is cut (from memory)
GLOSS_GU = 5.0  # between two shells side by side (from memory)
_CUTS = ("spindle_height_mm", "outer_spindle_height_mm")  # above the table


@dataclass(frozen=True, slots=True)
class StationNumber:
    label: str
    value: str
    unit: str = ""
    tolerance: str = ""
    note: str = ""  # the same in inches, or what to mind


def station_numbers(kind: str, results: Results, inputs: Results, coat_index: int | None = None) -> list[StationNumber]:
    """The numbers of a kind of station from a spec's frozen ``results`` and ``inputs``. ``coat_index`` for coat steps."""
    make = _NUMBERS.get(StationKind(kind))
    return [] if make is None else list(make(results, inputs, coat_index))


def mm(value: float, decimals: int = 1) -> str:
    return f"{value:.{decimals}f}"


def _tolerance(results: Results, name: str) -> str:
    """``± 0.5``, or ``at most 1.5`` for what can only be too much."""
    tolerance = results["shell"]["tolerances"][name]
    accept = f"{tolerance['accept_mm']:g}"
    return f"± {accept}" if tolerance["two_sided"] else f"at most {accept}"


def _cut(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    for blank in results["cutting"]["blanks"]:
        pieces = f"{blank['pieces']} × " if blank["pieces"] > 1 else ""
        slanted = f", ends slanted by {mm(blank['slant_mm'])}" if blank["slant_mm"] else ""
        yield StationNumber(
            f"Plate {blank['position']}: {blank['name']}",
            f"{pieces}{mm(blank['length_mm'])} × {mm(blank['height_mm'])}",
            "mm",
            f"length ± {blank['length_tolerance_mm']:g}",
            f"rough {blank['rough_length_mm']:.0f} × {blank['rough_height_mm']:.0f}, grain {blank['grain']}{slanted}",
        )


def _press(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    pressing, gluing = results["pressing"], results["gluing"]
    yield StationNumber(
        "Mould",
        f"{inputs['nominal_diameter_in']:g}",
        "in",
        note=f"bore {mm(results['shell']['outside_diameter_mm'])} mm",
    )
    yield StationNumber("Glue to mix", f"{gluing['to_mix_g']:.0f}", "g", note=_mix(gluing["mix"]))
    yield _closing(gluing["clocks"])
    yield StationNumber("Pressure", f"{pressing['pressure_bar']:.1f}", "bar", note=_gauge(pressing))
    yield StationNumber(
        "Time in the press", f"{pressing['time_min']:.0f}", "min", note=f"at {pressing['temperature_c']:g} °C"
    )
    yield StationNumber("Pressed height", mm(results["cutting"]["pressed_height_mm"]), "mm")
    yield StationNumber("Rest before trimming", f"{pressing['rest_h']:g}", "h")


def _mix(mix: list[Results]) -> str:
    return ", ".join(f"{part['name']} {part['mass_g']:.0f} g" for part in mix)


def _closing(clocks: Results) -> StationNumber:
    if not clocks["may_glue"]:
        return StationNumber("Close within", "do not glue", note=clocks["reason"])
    return StationNumber(
        "Close within",
        f"{clocks['closed_time_min']:.0f}",
        "min",
        note=f"at {clocks['temperature_c']:g} °C; mix lasts {clocks['pot_life_min']:.0f} min",
    )


def _gauge(pressing: Results) -> str:
    parts = f"parts the mould with {pressing['parting_force_n'] / 1000:.0f} kN"
    return parts if pressing["gauge_bar"] is None else f"gauge {pressing['gauge_bar']:.1f} bar; {parts}"


def _trim(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    shell = results["shell"]
    depth = shell["depth_mm"]
    yield StationNumber("Depth after trimming", mm(depth), "mm", _tolerance(results, "depth"), inch_fraction(depth))
    yield StationNumber("Trim each end", mm(results["cutting"]["trim_each_end_mm"]), "mm", note="equal at both ends")
    yield StationNumber(
        "Outside diameter",
        mm(shell["outside_diameter_mm"]),
        "mm",
        _tolerance(results, "outside_diameter"),
        inch_fraction(shell["outside_diameter_mm"]),
    )
    yield StationNumber(
        "Roundness", "", "mm", _tolerance(results, "roundness"), "largest less smallest diameter, both ends"
    )
    yield StationNumber("Ends parallel", "", "mm", _tolerance(results, "parallelism"), "height at 8 places")


def _edge_numbers(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    yield StationNumber("Wall", mm(results["shell"]["wall_mm"]), "mm", _tolerance(results, "wall"))
    bed = results["snare_bed"]
    for side in ("batter", "resonant"):
        edge = results["edges"][side]
        name = "Snare side" if bed and side == "resonant" else side.capitalize()
        yield StationNumber(
            f"{name} cutters, inner / outer" if edge["outer_spindle_height_mm"] else f"{name} cutter, inner",
            " / ".join(mm(edge[cut], 2) for cut in _CUTS if edge[cut]),
            "mm",
            f"± {SPINDLE_MM:g}",
            f"{edge['name']}, apex {mm(edge['apex_offset_mm'])} mm from outside{_land(edge)}",
        )
    if bed:
        yield StationNumber(
            "Snare beds, depth",
            f"{bed['depth_mm']:g}",
            "mm",
            f"± {bed['depth_tolerance_mm']:g}",
            f"both on the strainer axis ± {bed['centre_tolerance_mm']:g}",
        )
        yield StationNumber(
            "Snare beds, straight across",
            f"{bed['flat_chord_mm']:.0f} … {bed['overall_chord_mm']:.0f}",
            "mm",
            note="the flat, and with its ramps",
        )


def _land(edge: Results) -> str:
    return f", leave {edge['land_mm']:.1f} flat" if edge["land_mm"] else ""


def _coat(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    coats = (results["coats"] or {}).get("coats") or []
    if coat is None or coat >= len(coats):
        return
    this, recipe = coats[coat], inputs["finish"]["coats"][coat]
    yield StationNumber("Coat", f"{coat + 1} of {len(coats)}", note=f"{recipe['name']}, {recipe['surface']}")
    if recipe["grit_before"]:
        yield StationNumber("Sand before with", f"P{recipe['grit_before']}")
    yield StationNumber("Wet film", f"{recipe['wet_film_um']:.0f}", "µm")
    yield StationNumber(
        "Material",
        f"{this['material_ml']:.0f}",
        "ml",
        note=f"thinned {recipe['thinning_pct']:g} %" if recipe["thinning_pct"] else "",
    )
    yield StationNumber("Not below", f"{recipe['film_forming_min_c']:g}", "°C", note="colder, no film forms")
    yield StationNumber("Air not above", f"{recipe['max_humidity_pct']:g}", "%", note="damper, it stays soft or milky")
    if not this["may_coat"]:
        yield StationNumber("Then dry for", "do not coat", note=this["stop_reason"])
        return
    yield StationNumber("Then dry for", f"{this['dwell_h']:.1f}", "h")


def _sand(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    grits = [
        c["grit_before"]
        for c in inputs["finish"]["coats"]
        if c["grit_before"] and c["stage"] not in ("seal", "inside_seal")
    ]
    if grits:
        yield StationNumber("Last grit", f"P{grits[0]}", note="before the first coat that is seen")
    yield StationNumber(
        "Wall", mm(results["shell"]["wall_mm"]), "mm", _tolerance(results, "wall"), "sand the face evenly, not through"
    )
    yield StationNumber(
        "Outside diameter", mm(results["shell"]["outside_diameter_mm"]), "mm", _tolerance(results, "outside_diameter")
    )


def _wrap(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    wrap = results.get("wrap")
    if not wrap:
        return
    pieces = f"{wrap['pieces']} × " if wrap["pieces"] > 1 else ""
    yield StationNumber(
        "Blank",
        f"{pieces}{mm(wrap['piece_length_mm'])} × {mm(wrap['blank_height_mm'])}",
        "mm",
        f"± {BLANK_MM:g}",
        "one piece goes round" if wrap["pieces"] == 1 else "each piece with its overlap",
    )
    yield StationNumber("Overlap", f"{inputs['finish']['wrap']['overlap_mm']:g}", "mm")
    if angles := results["drilling"].get("wrap_seams_deg"):
        per_degree = results["shell"]["mm_per_degree"]
        yield StationNumber(
            "Middle of the overlap" if len(angles) == 1 else "Middles of the overlaps",
            " and ".join(mm(angle * per_degree) for angle in angles),
            "mm",
            note=f"along the bare shell from the outer seam, at {' and '.join(f'{angle:.1f}°' for angle in angles)}: a row "
            "of lugs will hold it down. Carry the seam's mark over onto the edge before you cover it",
        )
    yield StationNumber("Free at each edge", f"{inputs['finish']['wrap']['shy_mm']:g}", "mm")
    yield StationNumber(
        "Diameter over wrap",
        mm(results["shell"]["diameter_over_finish_mm"]),
        "mm",
        _tolerance(results, "outside_diameter"),
    )


def _drill(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    lugs, drilling = inputs["hardware"]["lugs"], results["drilling"]
    yield StationNumber("Lugs", str(drilling["lugs_per_head"]), "places", note=lugs["name"])
    yield StationNumber(
        "Lug to lug, along the outside",
        mm(drilling["lug_pitch_arc_mm"]),
        "mm",
        f"± {drilling['arc_tolerance_mm']:g}",
        f"{drilling['lug_pitch_deg']:g}°; {mm(drilling['lug_chord_mm'])} mm straight across",
    )
    yield StationNumber(
        "Lug hole",
        f"{lugs['hole_diameter_mm']:g}",
        "mm",
        note=f"pair {lugs['hole_spacing_mm']:g} mm apart" if lugs["hole_spacing_mm"] else "one hole",
    )
    yield StationNumber(
        "Holes in all",
        str(len(drilling["holes"])),
        note=f"heights ± {drilling['height_tolerance_mm']:g} mm; see the map",
    )


def _assemble(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    hardware = results["hardware"]
    yield StationNumber("Parts", str(hardware["pieces"]), "pieces", note=inputs["hardware"]["name"])
    bags = [bag for bag in hardware["bags"] if bag["bag"]]  # what is too large for a bag has none
    if bags:
        windows = {bag["bag"]: bag for bag in results["mass"]["bags"]}
        yield StationNumber("Bags", str(len(bags)), note="; ".join(_bag(bag, windows.get(bag["bag"])) for bag in bags))
    rod = hardware["rod"]
    if rod:
        yield StationNumber(
            "Rods",
            f"{hardware['rods']} × {rod['length_mm']:g}",
            "mm",
            note=f"{inputs['hardware']['rod']['thread']}; runs {rod['turns']:.0f} turns into the lug",
        )
    if hardware["spares"]:
        yield StationNumber("Spares", str(hardware["spares"]), "pieces", note="for the carton")


def _bag(bag: Results, window: Results | None) -> str:
    """“rods 12: 143.3–144.7 g”; without a weight where weighing can't find one missing part."""
    if window is None or not window["finds_one_missing"]:
        return f"{bag['bag']} {bag['pieces']}: count"
    return f"{bag['bag']} {bag['pieces']}: {window['low_g']:.1f}–{window['high_g']:.1f} g"


def _tune(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    tuning = results["tuning"]
    if not tuning:
        return
    for side, name in (("batter", "Batter head"), ("resonant", "Snare-side head")):
        head = tuning[side]
        yield StationNumber(
            f"{name}, at each lug",
            f"{head['target_hz']:.0f}",
            "Hz",
            f"± {inputs['tuning']['evenness_hz']:g}",
            f"near {head['note']}, {head['cents_off_note']:+.0f} cents",
        )


def _final(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    shell = results["shell"]
    yield StationNumber("Size", f"{inputs['nominal_diameter_in']:g} × {inputs['nominal_depth_in']:g}", "in")
    yield StationNumber("Depth", mm(shell["depth_mm"]), "mm", _tolerance(results, "depth"))
    yield StationNumber("Lugs", str(inputs["hardware"]["lugs"]["per_head"]), "a head")
    yield StationNumber("Parts", str(results["hardware"]["pieces"]), "pieces")
    coats = results["coats"]
    if coats and coats["gloss_target_gu"] is not None:
        yield StationNumber(
            "Gloss at 60°", f"{coats['gloss_target_gu']:g}", "GU", f"± {GLOSS_GU:g}", coats["gloss_advice"]
        )


def _pack(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    mass, packing = results["mass"], results["packing"]
    if mass:
        yield StationNumber("Drum", f"{mass['drum_g'] / 1000:.1f}", "kg", note="checks the carton, not small parts")
    if packing:
        side = math.ceil(packing["carton_side_mm"])
        yield StationNumber(
            "Carton, when it travels alone",
            f"{side} × {side} × {math.ceil(packing['carton_height_mm'])}",
            "mm",
            note="inside; how the kit nests stands below",
        )
    spares = [line for line in results["hardware"]["pick_list"] if line["spare"]]
    if spares:
        yield StationNumber(
            "Spares in the carton",
            str(results["hardware"]["spares"]),
            "pieces",
            note=", ".join(f"{line['spare']} {line['name']}" for line in spares),
        )
    yield StationNumber("Card", "1", note="signed by the final checker")


_NUMBERS: dict[StationKind, Callable[[Results, Results, int | None], Iterator[StationNumber]]] = {
    StationKind.CUT: _cut,
    StationKind.PRESS: _press,
    StationKind.TRIM: _trim,
    StationKind.EDGE: _edge_numbers,
    StationKind.SEAL: _coat,
    StationKind.SAND: _sand,
    StationKind.FINISH: _coat,
    StationKind.WRAP: _wrap,
    StationKind.DRILL: _drill,
    StationKind.ASSEMBLE: _assemble,
    StationKind.TUNE: _tune,
    StationKind.FINAL_CHECK: _final,
    StationKind.PACK: _pack,
}
