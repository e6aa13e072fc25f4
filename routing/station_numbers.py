"""The few numbers that each station needs for one shell, written for people: for the tablet and the traveler alike.

They are read from the frozen spec and never computed again; this is the one place where they are rounded.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from routing.languages import numeral
from routing.models.route import StationKind
from routing.spec_words import spoken
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
    return numeral(value, f".{decimals}f")


def _tolerance(results: Results, name: str) -> str:
    """``± 0.5``, or ``at most 1.5`` for what can only be too much."""
    tolerance = results["shell"]["tolerances"][name]
    accept = numeral(tolerance["accept_mm"])
    return f"± {accept}" if tolerance["two_sided"] else _("at most {value}").format(value=accept)


def _cut(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    for blank in results["cutting"]["blanks"]:
        pieces = f"{blank['pieces']} × " if blank["pieces"] > 1 else ""
        note = _("rough {length} × {height}, grain {grain}").format(
            length=numeral(blank["rough_length_mm"], ".0f"),
            height=numeral(blank["rough_height_mm"], ".0f"),
            grain=_(blank["grain"]),
        )
        if blank["slant_mm"]:
            note += ", " + _("ends slanted by {value}").format(value=mm(blank["slant_mm"]))
        yield StationNumber(
            _("Plate {place}: {name}").format(place=blank["position"], name=blank["name"]),
            f"{pieces}{mm(blank['length_mm'])} × {mm(blank['height_mm'])}",
            "mm",
            _("length ± {value}").format(value=numeral(blank["length_tolerance_mm"])),
            note,
        )


def _press(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    pressing, gluing = results["pressing"], results["gluing"]
    yield StationNumber(
        _("Mould"),
        numeral(inputs["nominal_diameter_in"]),
        "in",
        note=_("bore {value} mm").format(value=mm(results["shell"]["outside_diameter_mm"])),
    )
    yield StationNumber(_("Glue to mix"), numeral(gluing["to_mix_g"], ".0f"), "g", note=_mix(gluing["mix"]))
    yield _closing(gluing["clocks"])
    yield StationNumber(_("Pressure"), numeral(pressing["pressure_bar"], ".1f"), "bar", note=_gauge(pressing))
    yield StationNumber(
        _("Time in the press"),
        numeral(pressing["time_min"], ".0f"),
        "min",
        note=_("at {value} °C").format(value=numeral(pressing["temperature_c"])),
    )
    yield StationNumber(_("Pressed height"), mm(results["cutting"]["pressed_height_mm"]), "mm")
    yield StationNumber(_("Rest before trimming"), numeral(pressing["rest_h"]), "h")


def _mix(mix: list[Results]) -> str:
    return ", ".join(f"{part['name']} {numeral(part['mass_g'], '.0f')} g" for part in mix)


def _closing(clocks: Results) -> StationNumber:
    if not clocks["may_glue"]:
        return StationNumber(_("Close within"), _("do not glue"), note=spoken(clocks["reason"]))
    return StationNumber(
        _("Close within"),
        numeral(clocks["closed_time_min"], ".0f"),
        "min",
        note=_("at {value} °C; mix lasts {minutes} min").format(
            value=numeral(clocks["temperature_c"]), minutes=numeral(clocks["pot_life_min"], ".0f")
        ),
    )


def _gauge(pressing: Results) -> str:
    parts = _("parts the mould with {value} kN").format(value=numeral(pressing["parting_force_n"] / 1000, ".0f"))
    if pressing["gauge_bar"] is None:
        return parts
    return _("gauge {value} bar").format(value=numeral(pressing["gauge_bar"], ".1f")) + f"; {parts}"


def _trim(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    shell = results["shell"]
    depth = shell["depth_mm"]
    yield StationNumber(_("Depth after trimming"), mm(depth), "mm", _tolerance(results, "depth"), inch_fraction(depth))
    yield StationNumber(
        _("Trim each end"), mm(results["cutting"]["trim_each_end_mm"]), "mm", note=_("equal at both ends")
    )
    yield StationNumber(
        _("Outside diameter"),
        mm(shell["outside_diameter_mm"]),
        "mm",
        _tolerance(results, "outside_diameter"),
        inch_fraction(shell["outside_diameter_mm"]),
    )
    yield StationNumber(
        _("Roundness"), "", "mm", _tolerance(results, "roundness"), _("largest less smallest diameter, both ends")
    )
    yield StationNumber(_("Ends parallel"), "", "mm", _tolerance(results, "parallelism"), _("height at 8 places"))


def _edge_numbers(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    yield StationNumber(_("Wall"), mm(results["shell"]["wall_mm"]), "mm", _tolerance(results, "wall"))
    bed = results["snare_bed"]
    for side in ("batter", "resonant"):
        edge = results["edges"][side]
        label = _("{side} cutters, inner / outer") if edge["outer_spindle_height_mm"] else _("{side} cutter, inner")
        note = _("{name}, apex {value} mm from outside").format(name=edge["name"], value=mm(edge["apex_offset_mm"]))
        if edge["land_mm"]:
            note += ", " + _("leave {value} flat").format(value=mm(edge["land_mm"]))
        yield StationNumber(
            label.format(side=side_in_words(side, bool(bed))),
            " / ".join(mm(edge[cut], 2) for cut in _CUTS if edge[cut]),
            "mm",
            f"± {numeral(SPINDLE_MM)}",
            note,
        )
    if bed:
        yield StationNumber(
            _("Snare beds, depth"),
            numeral(bed["depth_mm"]),
            "mm",
            f"± {numeral(bed['depth_tolerance_mm'])}",
            _("both on the strainer axis ± {value}").format(value=numeral(bed["centre_tolerance_mm"])),
        )
        yield StationNumber(
            _("Snare beds, straight across"),
            f"{numeral(bed['flat_chord_mm'], '.0f')} … {numeral(bed['overall_chord_mm'], '.0f')}",
            "mm",
            note=_("the flat, and with its ramps"),
        )


def side_in_words(side: str, has_bed: bool) -> str:
    """What a side of the drum is called at the beginning of a label."""
    if side == "batter":
        return _("Batter")
    return _("Snare side") if has_bed else _("Resonant")


def _coat(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    coats = (results["coats"] or {}).get("coats") or []
    if coat is None or coat >= len(coats):
        return
    this, recipe = coats[coat], inputs["finish"]["coats"][coat]
    yield StationNumber(
        _("Coat"),
        _("{place} of {coats}").format(place=coat + 1, coats=len(coats)),
        note=f"{recipe['name']}, {_(recipe['surface'])}",
    )
    if recipe["grit_before"]:
        yield StationNumber(_("Sand before with"), f"P{recipe['grit_before']}")
    yield StationNumber(_("Wet film"), numeral(recipe["wet_film_um"], ".0f"), "µm")
    thinned = _("thinned {value} %").format(value=numeral(recipe["thinning_pct"])) if recipe["thinning_pct"] else ""
    yield StationNumber(_("Material"), numeral(this["material_ml"], ".0f"), "ml", note=thinned)
    yield StationNumber(_("Not below"), numeral(recipe["film_forming_min_c"]), "°C", note=_("colder, no film forms"))
    yield StationNumber(
        _("Air not above"), numeral(recipe["max_humidity_pct"]), "%", note=_("damper, it stays soft or milky")
    )
    if not this["may_coat"]:
        yield StationNumber(_("Then dry for"), _("do not coat"), note=spoken(this["stop_reason"]))
        return
    yield StationNumber(_("Then dry for"), numeral(this["dwell_h"], ".1f"), "h")


def _sand(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    grits = [
        c["grit_before"]
        for c in inputs["finish"]["coats"]
        if c["grit_before"] and c["stage"] not in ("seal", "inside_seal")
    ]
    if grits:
        yield StationNumber(_("Last grit"), f"P{grits[0]}", note=_("before the first coat that is seen"))
    yield StationNumber(
        _("Wall"),
        mm(results["shell"]["wall_mm"]),
        "mm",
        _tolerance(results, "wall"),
        _("sand the face evenly, not through"),
    )
    yield StationNumber(
        _("Outside diameter"),
        mm(results["shell"]["outside_diameter_mm"]),
        "mm",
        _tolerance(results, "outside_diameter"),
    )


def _wrap(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    wrap = results.get("wrap")
    if not wrap:
        return
    pieces = f"{wrap['pieces']} × " if wrap["pieces"] > 1 else ""
    yield StationNumber(
        _("Blank"),
        f"{pieces}{mm(wrap['piece_length_mm'])} × {mm(wrap['blank_height_mm'])}",
        "mm",
        f"± {numeral(BLANK_MM)}",
        _("one piece goes round") if wrap["pieces"] == 1 else _("each piece with its overlap"),
    )
    yield StationNumber(_("Overlap"), numeral(inputs["finish"]["wrap"]["overlap_mm"]), "mm")
    if angles := results["drilling"].get("wrap_seams_deg"):
        per_degree = results["shell"]["mm_per_degree"]
        both = " " + _("and") + " "
        yield StationNumber(
            _("Middle of the overlap") if len(angles) == 1 else _("Middles of the overlaps"),
            both.join(mm(angle * per_degree) for angle in angles),
            "mm",
            note=_(
                "along the bare shell from the outer seam, at {angles}: a row of lugs will hold it down. Carry the seam's "
                "mark over onto the edge before you cover it"
            ).format(angles=both.join(f"{numeral(angle, '.1f')}°" for angle in angles)),
        )
    yield StationNumber(_("Free at each edge"), numeral(inputs["finish"]["wrap"]["shy_mm"]), "mm")
    yield StationNumber(
        _("Diameter over wrap"),
        mm(results["shell"]["diameter_over_finish_mm"]),
        "mm",
        _tolerance(results, "outside_diameter"),
    )


def _drill(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    lugs, drilling = inputs["hardware"]["lugs"], results["drilling"]
    yield StationNumber(_("Lugs"), str(drilling["lugs_per_head"]), _("places"), note=lugs["name"])
    yield StationNumber(
        _("Lug to lug, along the outside"),
        mm(drilling["lug_pitch_arc_mm"]),
        "mm",
        f"± {numeral(drilling['arc_tolerance_mm'])}",
        _("{angle}°; {chord} mm straight across").format(
            angle=numeral(drilling["lug_pitch_deg"]), chord=mm(drilling["lug_chord_mm"])
        ),
    )
    apart = lugs["hole_spacing_mm"]
    yield StationNumber(
        _("Lug hole"),
        numeral(lugs["hole_diameter_mm"]),
        "mm",
        note=_("pair {value} mm apart").format(value=numeral(apart)) if apart else _("one hole"),
    )
    yield StationNumber(
        _("Holes in all"),
        str(len(drilling["holes"])),
        note=_("heights ± {value} mm; see the map").format(value=numeral(drilling["height_tolerance_mm"])),
    )


def _assemble(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    hardware = results["hardware"]
    yield StationNumber(_("Parts"), str(hardware["pieces"]), _("pieces"), note=inputs["hardware"]["name"])
    bags = [bag for bag in hardware["bags"] if bag["bag"]]  # what is too large for a bag has none
    if bags:
        windows = {bag["bag"]: bag for bag in results["mass"]["bags"]}
        yield StationNumber(
            _("Bags"), str(len(bags)), note="; ".join(_bag(bag, windows.get(bag["bag"])) for bag in bags)
        )
    rod = hardware["rod"]
    if rod:
        yield StationNumber(
            _("Rods"),
            f"{hardware['rods']} × {numeral(rod['length_mm'])}",
            "mm",
            note=_("{thread}; runs {turns} turns into the lug").format(
                thread=inputs["hardware"]["rod"]["thread"], turns=numeral(rod["turns"], ".0f")
            ),
        )
    if hardware["spares"]:
        yield StationNumber(_("Spares"), str(hardware["spares"]), _("pieces"), note=_("for the carton"))


def _bag(bag: Results, window: Results | None) -> str:
    """“rods 12: 143.3–144.7 g”; without a weight where weighing can't find one missing part."""
    if window is None or not window["finds_one_missing"]:
        return f"{bag['bag']} {bag['pieces']}: " + _("count")
    return f"{bag['bag']} {bag['pieces']}: {numeral(window['low_g'], '.1f')}–{numeral(window['high_g'], '.1f')} g"


def _tune(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    tuning = results["tuning"]
    if not tuning:
        return
    for side, label in (
        ("batter", _("Batter head, at each lug")),
        ("resonant", _("Snare-side head, at each lug")),
    ):
        head = tuning[side]
        yield StationNumber(
            label,
            numeral(head["target_hz"], ".0f"),
            "Hz",
            f"± {numeral(inputs['tuning']['evenness_hz'])}",
            _("near {note}, {cents} cents").format(note=head["note"], cents=f"{head['cents_off_note']:+.0f}"),
        )


def _final(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    shell = results["shell"]
    size = f"{inputs['nominal_diameter_in']:g} × {inputs['nominal_depth_in']:g}"  # a name: with a point everywhere
    yield StationNumber(_("Size"), size, "in")
    yield StationNumber(_("Depth"), mm(shell["depth_mm"]), "mm", _tolerance(results, "depth"))
    yield StationNumber(_("Lugs"), str(inputs["hardware"]["lugs"]["per_head"]), _("a head"))
    yield StationNumber(_("Parts"), str(results["hardware"]["pieces"]), _("pieces"))
    coats = results["coats"]
    if coats and coats["gloss_target_gu"] is not None:
        yield StationNumber(
            _("Gloss at 60°"),
            numeral(coats["gloss_target_gu"]),
            "GU",
            f"± {numeral(GLOSS_GU)}",
            spoken(coats["gloss_advice"]),
        )


def _pack(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    mass, packing = results["mass"], results["packing"]
    if mass:
        yield StationNumber(
            _("Drum"), numeral(mass["drum_g"] / 1000, ".1f"), "kg", note=_("checks the carton, not small parts")
        )
    if packing:
        side = math.ceil(packing["carton_side_mm"])
        yield StationNumber(
            _("Carton, when it travels alone"),
            f"{side} × {side} × {math.ceil(packing['carton_height_mm'])}",
            "mm",
            note=_("inside; how the kit nests stands below"),
        )
    spares = [line for line in results["hardware"]["pick_list"] if line["spare"]]
    if spares:
        yield StationNumber(
            _("Spares in the carton"),
            str(results["hardware"]["spares"]),
            _("pieces"),
            note=", ".join(f"{line['spare']} {line['name']}" for line in spares),
        )
    yield StationNumber(_("Card"), "1", note=_("signed by the final checker"))


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
