"""The few numbers that each station needs for one shell, written for people: for the tablet and the traveler alike.

They are read from the frozen spec and never computed again; this is the one place where they are rounded.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from routing.drawings.edge_profile import EdgeDrawing, edge_profile_svg
from routing.drawings.hole_map import MapHole, MapPiece, hole_map_svg
from routing.drawings.plate_stack import StackPlate, plate_stack_svg
from routing.models.route import StationKind
from routing.specs.units import inch_fraction

Results = Mapping[str, Any]


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
        yield StationNumber(
            f"Plate {blank['position']}: {blank['name']}",
            f"{pieces}{mm(blank['length_mm'])} × {mm(blank['height_mm'])}",
            "mm",
            f"length ± {blank['length_tolerance_mm']:g}",
            f"rough {blank['rough_length_mm']:.0f} × {blank['rough_height_mm']:.0f}, grain {blank['grain']}",
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
    yield StationNumber(
        "Close within",
        f"{gluing['clocks']['closed_time_min']:.0f}",
        "min",
        note=f"at {gluing['clocks']['temperature_c']:g} °C",
    )
    yield StationNumber("Pressure", f"{pressing['pressure_bar']:.1f}", "bar", note=_gauge(pressing))
    yield StationNumber(
        "Time in the press", f"{pressing['time_min']:.0f}", "min", note=f"at {pressing['temperature_c']:g} °C"
    )
    yield StationNumber("Pressed height", mm(results["cutting"]["pressed_height_mm"]), "mm")
    yield StationNumber("Rest before trimming", f"{pressing['rest_h']:g}", "h")


def _mix(mix: list[Results]) -> str:
    return ", ".join(f"{part['name']} {part['mass_g']:.0f} g" for part in mix)


def _gauge(pressing: Results) -> str:
    if pressing["gauge_bar"] is None:
        return f"parts the mould with {pressing['parting_force_n'] / 1000:.0f} kN"
    return f"gauge {pressing['gauge_bar']:.1f} bar; parts the mould with {pressing['parting_force_n'] / 1000:.0f} kN"


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
    for side in ("batter", "resonant"):
        edge = (results.get("edges") or {}).get(side)
        if not edge:
            continue
        yield StationNumber(
            f"{side.capitalize()} edge",
            inputs[f"{side}_edge"]["name"],
            note=f"apex {mm(edge['apex_offset_mm'])} mm from outside",
        )
        yield StationNumber(f"{side.capitalize()}: cutter above table", mm(edge["spindle_height_mm"], 2), "mm", "± 0.1")
    bed = results.get("snare_bed")
    if bed:
        yield StationNumber(
            "Snare beds",
            f"{bed['depth_mm']:g} deep, {bed['overall_width_mm']:g} wide",
            "mm",
            "depth ± 0.1",
            "both on the strainer axis, resonant side",
        )


def _coat(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    coats = (results.get("coats") or {}).get("coats") or []
    if coat is None or coat >= len(coats):
        return
    this, recipe = coats[coat], inputs["finish"]["coats"][coat]
    yield StationNumber("Coat", f"{coat + 1} of {len(coats)}", note=f"{recipe['name']}, {recipe['surface']}")
    if recipe["grit_before"]:
        yield StationNumber("Sand before with", f"P{recipe['grit_before']}")
    yield StationNumber("Wet film", f"{recipe['wet_film_um']:.0f}", "µm", "± 10 %")
    yield StationNumber(
        "Material",
        f"{this['material_ml']:.0f}",
        "ml",
        note=f"thinned {recipe['thinning_pct']:g} %" if recipe["thinning_pct"] else "",
    )
    yield StationNumber("Not below", f"{recipe['film_forming_min_c']:g}", "°C", note="colder, no film forms")
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
    yield StationNumber(
        "Blank",
        f"{mm(wrap['blank_length_mm'])} × {mm(wrap['blank_height_mm'])}",
        "mm",
        "± 0.5",
        f"{wrap['pieces']} piece{'s' if wrap['pieces'] > 1 else ''}",
    )
    yield StationNumber("Overlap", f"{inputs['finish']['wrap']['overlap_mm']:g}", "mm")
    yield StationNumber("Free at each edge", f"{inputs['finish']['wrap']['shy_mm']:g}", "mm")
    yield StationNumber(
        "Diameter over wrap",
        mm(results["shell"]["diameter_over_finish_mm"]),
        "mm",
        _tolerance(results, "outside_diameter"),
    )


def _drill(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    lugs = inputs["hardware"]["lugs"]
    shell = results["shell"]
    yield StationNumber("Lugs", f"{lugs['per_head']} places", note=lugs["name"])
    yield StationNumber(
        "Lug to lug, along the outside",
        mm(shell["outside_circumference_mm"] / lugs["per_head"]),
        "mm",
        "± 0.5",
        f"{360 / lugs['per_head']:g}°",
    )
    yield StationNumber(
        "Lug hole",
        f"{lugs['hole_diameter_mm']:g}",
        "mm",
        note=f"pair {lugs['hole_spacing_mm']:g} mm apart" if lugs["hole_spacing_mm"] else "one hole",
    )
    holes = (results.get("drilling") or {}).get("holes") or []
    if holes:
        yield StationNumber("Holes in all", str(len(holes)), note="see the table and the map")


def _assemble(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    hardware = inputs["hardware"]
    parts = hardware["parts"]
    yield StationNumber("Parts", str(sum(part["quantity"] for part in parts)), "pieces", note=hardware["name"])
    for bag in sorted({part["bag"] for part in parts if part["bag"]})[:4]:
        count = sum(part["quantity"] for part in parts if part["bag"] == bag)
        yield StationNumber(f"Bag: {bag}", str(count), "pieces")
    if hardware["rod"]:
        yield StationNumber("Rods", f"{hardware['rod']['length_mm']:g}", "mm", note=hardware["rod"]["thread"])


def _tune(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    targets = inputs.get("tuning")
    if not targets:
        return
    yield StationNumber(
        "Batter head, at each lug", f"{targets['batter_hz']:.0f}", "Hz", f"± {targets['evenness_hz']:g}"
    )
    yield StationNumber(
        "Snare-side head, at each lug", f"{targets['resonant_hz']:.0f}", "Hz", f"± {targets['evenness_hz']:g}"
    )


def _final(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    shell = results["shell"]
    yield StationNumber("Size", f"{inputs['nominal_diameter_in']:g} × {inputs['nominal_depth_in']:g}", "in")
    yield StationNumber("Depth", mm(shell["depth_mm"]), "mm", _tolerance(results, "depth"))
    yield StationNumber("Lugs", str(inputs["hardware"]["lugs"]["per_head"]), "a head")
    yield StationNumber("Parts", str(sum(part["quantity"] for part in inputs["hardware"]["parts"])), "pieces")
    if inputs["finish"]["gloss_target_gu"] is not None:
        yield StationNumber("Gloss", f"{inputs['finish']['gloss_target_gu']:g}", "GU", "± 5", "at 60°")


def _pack(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    spares = [part for part in inputs["hardware"]["parts"] if part["spare"]]
    mass = results.get("mass")
    if mass:
        yield StationNumber(
            "Drum", f"{mass['drum_g'] / 1000:.1f}", "kg", note="as a check of the carton, not of small parts"
        )
    yield StationNumber(
        "Spares in the carton",
        str(sum(part["spare"] for part in spares)),
        "pieces",
        note=", ".join(f"{p['spare']} {p['name']}" for p in spares),
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


def station_drawing(kind: str, results: Results) -> str:
    """The drawing that helps at a kind of station, as SVG; empty where none does."""
    if kind in (StationKind.CUT, StationKind.PRESS):
        return _plate_stack(results)
    if kind == StationKind.EDGE:
        return _edge(results, "batter") + _edge(results, "resonant")
    if kind == StationKind.DRILL:
        return _hole_map(results)
    return ""


def station_drawings(results: Results) -> list[tuple[str, str]]:
    """Every drawing of a drum with its caption, for paper."""
    return [
        ("Lay-up, outside to inside", _plate_stack(results)),
        ("Batter edge", _edge(results, "batter")),
        ("Snare-side edge" if results["snare_bed"] else "Resonant edge", _edge(results, "resonant")),
        ("Holes, outside unrolled; figures below are arcs in mm from the outer seam", _hole_map(results)),
    ]


def _plate_stack(results: Results) -> str:
    return plate_stack_svg(
        [
            StackPlate(
                plate["name"],
                plate["thickness_mm"],
                plate["veneers"],
                plate["grain"],
                tuple(plate["seam_angles_deg"]),
            )
            for plate in results["layup"]["plates"]
        ]
    )


def _edge(results: Results, side: str) -> str:
    edge = results["edges"][side]
    return edge_profile_svg(
        EdgeDrawing(
            name=edge["name"],
            wall_mm=results["shell"]["wall_mm"],
            apex_offset_mm=edge["apex_offset_mm"],
            inner_angle_deg=edge["inner_angle_deg"],
            outer_angle_deg=edge["outer_angle_deg"],
            round_over_radius_mm=edge["round_over_radius_mm"],
            inner_drop_mm=edge["inner_drop_mm"],
            outer_drop_mm=edge["outer_drop_mm"],
            profile=[(x, z) for x, z in edge["profile"]],
        )
    )


def _hole_map(results: Results) -> str:
    drilling = results["drilling"]
    per_degree = drilling["circumference_mm"] / 360
    return hole_map_svg(
        circumference_mm=drilling["circumference_mm"],
        height_mm=drilling["height_mm"],
        holes=[MapHole(h["number"], h["arc_mm"], h["height_mm"], h["diameter_mm"]) for h in drilling["holes"]],
        pieces=[
            MapPiece(
                p["name"], p["kind"], p["arc_mm"], p["height_mm"], p["footprint_round_mm"], p["footprint_axial_mm"]
            )
            for p in drilling["pieces"]
        ],
        seam_arcs_mm=[angle * per_degree for plate in results["layup"]["plates"] for angle in plate["seam_angles_deg"]],
    )
