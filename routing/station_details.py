"""Every further figure of a station for one shell, for whoever wants more than the three to seven large numbers.

Read from the frozen spec like those. A spec that was frozen before a figure was computed leaves it out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from routing.models.route import StationKind
from routing.specs.gluing import shells_per_batch
from routing.specs.units import inch_fraction
from routing.station_numbers import StationNumber, mm

Results = Mapping[str, Any]
MINUTES_PER_SHELL = 6.0  # to spread and load one shell; common practice, no source: time your own


def station_details(kind: str, results: Results, inputs: Results, coat_index: int | None = None) -> list[StationNumber]:
    """The further figures of a kind of station from a spec's frozen ``results`` and ``inputs``."""
    make = _DETAILS.get(StationKind(kind))
    return [] if make is None else list(make(results, inputs, coat_index))


def _cut(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    water, cutting = results["moisture"], results["cutting"]
    yield StationNumber(
        "Fit to glue",
        "yes" if water["fit_to_glue"] else "no",
        note=f"{water['verdict']} This is what plates of the shop usually have; the reading of these plates decides",
    )
    for warning in water["warnings"]:
        yield StationNumber("To mind", "", note=warning["message"])
    yield StationNumber(
        "Wood settles at",
        f"{water['room_emc_pct']:.1f}",
        "% moisture",
        note=f"in this room; plates of {water['plate_moisture_pct']:g} % keep still at "
        f"{water['room_humidity_for_plate_pct']:.0f} % humidity",
    )
    yield StationNumber(
        "Movement of the shell's height",
        f"{water['shell_height_move_mm']:+.2f}",
        "mm",
        note="at most, until it settles",
    )
    for plate, wet in zip(results["layup"]["plates"], water["plates"], strict=True):
        angles = ", ".join(f"{angle:.0f}°" for angle in plate["seam_angles_deg"])
        measured = "measured" if plate["measured"] else "nominal"
        yield StationNumber(
            f"Plate {plate['position']}",
            f"{plate['thickness_mm']:g}",
            f"mm, {measured}",
            note=f"{plate['veneers']} veneers; middle {mm(plate['mid_plane_length_mm'])} mm round; seam at {angles}; "
            f"{wet['density_kg_per_m3']:.0f} kg/m³; moves {wet['room_move_mm']:+.2f} mm in height",
        )
    yield StationNumber(
        "Pressed height",
        mm(cutting["pressed_height_mm"]),
        "mm",
        note=f"trim {mm(cutting['trim_each_end_mm'])} mm at each end",
    )


def _press(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    gluing, pressing, clocks = results["gluing"], results["pressing"], results["gluing"]["clocks"]
    if clocks["may_glue"]:
        most = shells_per_batch(
            pot_life_min=clocks["pot_life_min"],
            minutes_per_shell=MINUTES_PER_SHELL,
            closed_time_min=clocks["closed_time_min"],
        )
        yield StationNumber(
            "Shells from one mix, at most",
            str(most),
            "shells",
            note=f"{MINUTES_PER_SHELL:g} min to spread and load each, within {clocks['pot_life_min']:.0f} min",
        )
        for count in (2, 4, 6):
            if count <= most:
                parts = ", ".join(f"{part['name']} {part['mass_g'] * count:.0f} g" for part in gluing["mix"])
                yield StationNumber(f"Mix for {count} like this", f"{gluing['to_mix_g'] * count:.0f}", "g", note=parts)
    for line in gluing["lines"]:
        yield StationNumber(
            f"Glue line {line['number']}",
            f"{line['glue_g']:.0f}",
            "g",
            note=f"{line['area_m2'] * 1e4:.0f} cm² at {gluing['spread_g_per_m2']:g} g/m²",
        )
    for plate in results["moisture"]["plates"]:
        if plate["glue_lines"]:
            yield StationNumber(
                f"Water into plate {plate['position']}",
                f"{plate['water_from_glue_g_per_m2']:.0f}",
                "g/m²",
                note=f"wetter by {plate['rise_pct']:.1f} % of its dry weight",
            )
    yield StationNumber("Force on the wall", f"{pressing['wall_force_n'] / 1000:.0f}", "kN", note="sum over the wall")
    if pressing["relief_bar"]:
        yield StationNumber("Relief valve, at most", f"{pressing['relief_bar']:.1f}", "bar")
    yield StationNumber("Furthest glue line", mm(pressing["furthest_line_mm"]), "mm", note="from the heated face")


def _trim(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    shell, inside = results["shell"], results["shell"]["inside_diameter_mm"]
    yield StationNumber("Inside diameter", mm(inside), "mm", note=inch_fraction(inside))
    round_outside = shell["outside_circumference_mm"]
    yield StationNumber(
        "Round the outside", mm(round_outside), "mm", note=f"{shell['mm_per_degree']:.3f} mm for each degree"
    )
    yield StationNumber("Round the inside", mm(shell["inside_circumference_mm"]), "mm")
    yield StationNumber("Play of the head, each side", mm(shell["head_play_each_side_mm"]), "mm")
    for name, label in (("roundness", "Roundness"), ("depth", "Depth"), ("parallelism", "Parallel"), ("wall", "Wall")):
        yield _aim(shell, name, label)
    yield _aim(shell, "squareness", "Square to the axis")


def _aim(shell: Results, name: str, label: str) -> StationNumber:
    tolerance = shell["tolerances"][name]
    return StationNumber(
        f"{label}: aim for", f"{tolerance['target_mm']:g}", "mm", f"accept {tolerance['accept_mm']:g}", "of deviation"
    )


def _edge(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    yield _aim(results["shell"], "edge_flatness", "Flat on the plate, gap")
    yield _aim(results["shell"], "squareness", "Square to the axis")
    for side, name in (("batter", "Batter"), ("resonant", "Snare side" if results["snare_bed"] else "Resonant")):
        edge = results["edges"][side]
        yield StationNumber(
            f"{name}: head swings on", mm(edge["apex_diameter_mm"]), "mm", note="diameter of the apex circle"
        )
        yield StationNumber(
            f"{name}: drop inside / outside", f"{edge['inner_drop_mm']:.2f} / {edge['outer_drop_mm']:.2f}", "mm"
        )
        yield StationNumber(
            f"{name}: spindle 0.1 mm low",
            f"{edge['low_by_tenth_land_mm']:.2f}",
            "mm of flat",
            note="a wider flat, a softer edge",
        )
        loss = edge["high_by_tenth_height_loss_mm"]
        yield StationNumber(
            f"{name}: spindle 0.1 mm high",
            f"{edge['high_by_tenth_land_mm']:.2f}",
            "mm of flat",
            note=f"over-cut: this end loses {loss:.2f} mm" if loss else "a sharper edge",
        )
        if edge["advice"]:
            yield StationNumber(f"{name}: to mind", "", note=edge["advice"])
    if bed := results["snare_bed"]:
        yield StationNumber(
            "Snare beds at",
            f"{bed['strainer_bed_deg']:.1f}° and {bed['butt_bed_deg']:.1f}°",
            note=f"from the outer seam, under strainer and butt plate; ramps {mm(bed['ramp_length_mm'])} mm",
        )


def _coat(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    coats = (results["coats"] or {}).get("coats") or []
    if coat is None or coat >= len(coats):
        return
    this, recipe, film = coats[coat], inputs["finish"]["coats"][coat], results["coats"]
    yield StationNumber("Dry film of this coat", f"{this['dry_film_um']:.0f}", "µm")
    if this["thinner_ml"]:
        yield StationNumber(
            "Mix", f"{this['unthinned_ml']:.0f} + {this['thinner_ml']:.0f}", "ml", note="material and thinner"
        )
    yield StationNumber("Area", f"{this['area_m2'] * 1e4:.0f}", "cm²", note=recipe["surface"])
    yield StationNumber(
        "Stays on the shell", f"{recipe['transfer_efficiency'] * 100:.0f}", "%", note="of what leaves the gun or pad"
    )
    yield StationNumber(
        "Film of all coats",
        f"{film['outside_dry_film_um']:.0f}",
        "µm dry",
        note=f"outside; inside {film['inside_dry_film_um']:.0f} µm",
    )
    if film["gloss_target_gu"] is not None:
        yield StationNumber("Gloss", f"{film['gloss_target_gu']:g}", "GU at 60°", note=film["gloss_advice"])
    if (blend := film.get("gloss_base_pct")) is not None and recipe["stage"] == "clear":
        yield StationNumber(
            "Gloss base in the blend", f"{blend:.0f}", "%", note="the rest matt base; from your own drawdowns"
        )


def _wrap(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    wrap = results.get("wrap")
    if not wrap:
        return
    yield StationNumber(
        "Adhesive",
        f"{wrap['adhesive_wet_g']:.0f}",
        "g",
        note=f"on both surfaces together; {wrap['adhesive_dry_g']:.0f} g dry",
    )
    yield StationNumber("At the overlap", mm(wrap["diameter_at_overlap_mm"]), "mm", note="one sheet more")
    yield StationNumber(
        "Head fits over it",
        "yes" if wrap["head_fits"] else "no",
        note=f"play {mm(wrap['head_play_mm'])} mm, at the overlap {mm(wrap['head_play_at_overlap_mm'])} mm",
    )
    if wrap["pieces"] > 1:
        yield StationNumber("All pieces together", mm(wrap["blank_length_mm"]), "mm")


def _drill(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    yield StationNumber(
        "Round the outside",
        mm(results["drilling"]["circumference_mm"]),
        "mm",
        note="by tape, over the wrap if there is one",
    )
    for warning in results["drilling"]["warnings"]:
        yield StationNumber("To mind", "", note=warning["message"])


def _assemble(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    for bag in results["mass"]["bags"]:
        yield StationNumber(
            f"Bag {bag['bag']} weighs",
            f"{bag['low_g']:.1f} … {bag['high_g']:.1f}",
            "g",
            note=f"{bag['pieces']} pieces. {bag['advice']}",
        )
    if rod := results["hardware"]["rod"]:
        yield StationNumber(
            "Rod in the lug",
            mm(rod["engagement_mm"]),
            "mm",
            note=f"{rod['turns']:.0f} turns of {inputs['hardware']['rod']['pitch_mm']:g} mm",
        )
    for line in results["hardware"]["pick_list"]:
        spare = f" and {line['spare']} spare" if line["spare"] else ""
        unit = "piece" if line["quantity"] == 1 else "pieces"
        yield StationNumber(line["name"], str(line["quantity"]), unit, note=f"{line['bag'] or 'loose'}{spare}")


def _tune(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    tuning = results["tuning"]
    if not tuning:
        return
    for side, name in (("batter", "Batter"), ("resonant", "Snare side")):
        head = tuning[side]
        yield StationNumber(
            f"{name}: drum sounds near",
            f"{head['fundamental_hz']:.0f}",
            "Hz",
            note="of an ideal head, struck in the middle",
        )
        yield StationNumber(f"{name}: tension", f"{head['tension_n_per_m']:.0f}", "N/m", note="of an ideal head")
        yield StationNumber(
            f"{name}: lug to lug",
            f"{head['low_hz']:.0f} … {head['high_hz']:.0f}",
            "Hz",
            note=f"± {head['evenness_cents']:.0f} cents",
        )


def _pack(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    mass, packing = results["mass"], results["packing"]
    yield StationNumber(
        "Shell",
        f"{mass['shell_g']:.0f}",
        "g",
        f"{mass['shell_low_g']:.0f} … {mass['shell_high_g']:.0f}",
        f"glue {mass['glue_solids_g']:.0f} g in it, holes took {mass['removed_by_holes_g']:.0f} g",
    )
    if (finish := mass.get("finish_g")) is not None:
        yield StationNumber("Finish", f"{finish:.0f}", "g", note="dry")
    yield StationNumber("Hardware", f"{mass['hardware_g']:.0f}", "g", note=f"spares {mass['spares_g']:.0f} g more")
    yield StationNumber(
        "Over hoops and lugs",
        f"{packing['diameter_mm']:.0f} × {packing['length_mm']:.0f}",
        "mm",
        note="diameter, length",
    )


_DETAILS: dict[StationKind, Callable[[Results, Results, int | None], Iterator[StationNumber]]] = {
    StationKind.CUT: _cut,
    StationKind.PRESS: _press,
    StationKind.TRIM: _trim,
    StationKind.EDGE: _edge,
    StationKind.SEAL: _coat,
    StationKind.FINISH: _coat,
    StationKind.WRAP: _wrap,
    StationKind.DRILL: _drill,
    StationKind.ASSEMBLE: _assemble,
    StationKind.TUNE: _tune,
    StationKind.PACK: _pack,
}
