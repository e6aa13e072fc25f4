"""Every further figure of a station for one shell, for whoever wants more than the three to seven large numbers.

Read from the frozen spec like those. A spec that was frozen before a figure was computed leaves it out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from routing.languages import numeral
from routing.models.route import StationKind
from routing.spec_words import spoken
from routing.specs.gluing import shells_per_batch
from routing.specs.units import inch_fraction
from routing.station_numbers import StationNumber, mm, side_in_words

Results = Mapping[str, Any]
MINUTES_PER_SHELL = 6.0  # to spread and load one shell; common practice, no source: time your own


def station_details(kind: str, results: Results, inputs: Results, coat_index: int | None = None) -> list[StationNumber]:
    """The further figures of a kind of station from a spec's frozen ``results`` and ``inputs``."""
    make = _DETAILS.get(StationKind(kind))
    return [] if make is None else list(make(results, inputs, coat_index))


def _cut(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    water, cutting = results["moisture"], results["cutting"]
    usual = _("This is what plates of the shop usually have; the reading of these plates decides")
    yield StationNumber(_("Fit to glue"), _yes_or_no(water["fit_to_glue"]), note=f"{spoken(water['verdict'])} {usual}")
    for warning in water["warnings"]:
        yield StationNumber(_("To mind"), "", note=spoken(warning["message"]))
    yield StationNumber(
        _("Wood settles at"),
        numeral(water["room_emc_pct"], ".1f"),
        _("% moisture"),
        note=_("in this room; plates of {moisture} % keep still at {humidity} % humidity").format(
            moisture=numeral(water["plate_moisture_pct"]),
            humidity=numeral(water["room_humidity_for_plate_pct"], ".0f"),
        ),
    )
    yield StationNumber(
        _("Movement of the shell's height"),
        numeral(water["shell_height_move_mm"], "+.2f"),
        "mm",
        note=_("at most, until it settles"),
    )
    for plate, wet in zip(results["layup"]["plates"], water["plates"], strict=True):
        angles = ", ".join(f"{angle:.0f}°" for angle in plate["seam_angles_deg"])
        said = ngettext(
            "{veneers} veneer; middle {middle} mm round; seam at {angles}; {density} kg/m³; moves {move} mm in height",
            "{veneers} veneers; middle {middle} mm round; seam at {angles}; {density} kg/m³; moves {move} mm in height",
            plate["veneers"],
        )
        yield StationNumber(
            _("Plate {place}").format(place=plate["position"]),
            numeral(plate["thickness_mm"]),
            "mm, " + (_("measured") if plate["measured"] else _("nominal")),
            note=said.format(
                veneers=plate["veneers"],
                middle=mm(plate["mid_plane_length_mm"]),
                angles=angles,
                density=numeral(wet["density_kg_per_m3"], ".0f"),
                move=numeral(wet["room_move_mm"], "+.2f"),
            ),
        )
    yield StationNumber(
        _("Pressed height"),
        mm(cutting["pressed_height_mm"]),
        "mm",
        note=_("trim {value} mm at each end").format(value=mm(cutting["trim_each_end_mm"])),
    )


def _yes_or_no(fact: bool) -> str:
    return _("yes") if fact else _("no")


def _press(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    gluing, pressing, clocks = results["gluing"], results["pressing"], results["gluing"]["clocks"]
    if clocks["may_glue"]:
        most = shells_per_batch(
            pot_life_min=clocks["pot_life_min"],
            minutes_per_shell=MINUTES_PER_SHELL,
            closed_time_min=clocks["closed_time_min"],
        )
        yield StationNumber(
            _("Shells from one mix, at most"),
            str(most),
            _("shells"),
            note=_("{each} min to spread and load each, within {all} min").format(
                each=numeral(MINUTES_PER_SHELL), all=numeral(clocks["pot_life_min"], ".0f")
            ),
        )
        for count in (2, 4, 6):
            if count <= most:
                parts = ", ".join(f"{part['name']} {part['mass_g'] * count:.0f} g" for part in gluing["mix"])
                label = _("Mix for {count} like this").format(count=count)
                yield StationNumber(label, f"{gluing['to_mix_g'] * count:.0f}", "g", note=parts)
    for line in gluing["lines"]:
        yield StationNumber(
            _("Glue line {number}").format(number=line["number"]),
            f"{line['glue_g']:.0f}",
            "g",
            note=_("{area} cm² at {spread} g/m²").format(
                area=f"{line['area_m2'] * 1e4:.0f}", spread=numeral(gluing["spread_g_per_m2"])
            ),
        )
    for plate in results["moisture"]["plates"]:
        if plate["glue_lines"]:
            yield StationNumber(
                _("Water into plate {place}").format(place=plate["position"]),
                f"{plate['water_from_glue_g_per_m2']:.0f}",
                "g/m²",
                # xgettext:no-python-format
                note=_("wetter by {value} % of its dry weight").format(value=numeral(plate["rise_pct"], ".1f")),
            )
    force = f"{pressing['wall_force_n'] / 1000:.0f}"
    yield StationNumber(_("Force on the wall"), force, "kN", note=_("sum over the wall"))
    if pressing["relief_bar"]:
        yield StationNumber(_("Relief valve, at most"), numeral(pressing["relief_bar"], ".1f"), "bar")
    yield StationNumber(_("Furthest glue line"), mm(pressing["furthest_line_mm"]), "mm", note=_("from the heated face"))


def _trim(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    shell, inside = results["shell"], results["shell"]["inside_diameter_mm"]
    yield StationNumber(_("Inside diameter"), mm(inside), "mm", note=inch_fraction(inside))
    yield StationNumber(
        _("Round the outside"),
        mm(shell["outside_circumference_mm"]),
        "mm",
        note=_("{value} mm for each degree").format(value=mm(shell["mm_per_degree"], 3)),
    )
    yield StationNumber(_("Round the inside"), mm(shell["inside_circumference_mm"]), "mm")
    yield StationNumber(_("Play of the head, each side"), mm(shell["head_play_each_side_mm"]), "mm")
    yield _aim(shell, "roundness", _("Roundness: aim for"))
    yield _aim(shell, "depth", _("Depth: aim for"))
    yield _aim(shell, "parallelism", _("Parallel: aim for"))
    yield _aim(shell, "wall", _("Wall: aim for"))
    yield _aim(shell, "squareness", _("Square to the axis: aim for"))


def _aim(shell: Results, name: str, label: str) -> StationNumber:
    tolerance = shell["tolerances"][name]
    accept = _("accept {value}").format(value=numeral(tolerance["accept_mm"]))
    return StationNumber(label, numeral(tolerance["target_mm"]), "mm", accept, _("of deviation"))


def _edge(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    yield _aim(results["shell"], "edge_flatness", _("Flat on the plate, gap: aim for"))
    yield _aim(results["shell"], "squareness", _("Square to the axis: aim for"))
    for side in ("batter", "resonant"):
        yield from _side(results["edges"][side], side_in_words(side, bool(results["snare_bed"])))
    if bed := results["snare_bed"]:
        yield StationNumber(
            _("Snare beds at"),
            _("{first}° and {second}°").format(
                first=numeral(bed["strainer_bed_deg"], ".1f"), second=numeral(bed["butt_bed_deg"], ".1f")
            ),
            note=_("from the outer seam, under strainer and butt plate; ramps {value} mm").format(
                value=mm(bed["ramp_length_mm"])
            ),
        )


def _side(edge: Results, name: str) -> Iterator[StationNumber]:
    yield StationNumber(
        _("{side}: head swings on").format(side=name),
        mm(edge["apex_diameter_mm"]),
        "mm",
        note=_("diameter of the apex circle"),
    )
    yield StationNumber(
        _("{side}: drop inside / outside").format(side=name),
        f"{mm(edge['inner_drop_mm'], 2)} / {mm(edge['outer_drop_mm'], 2)}",
        "mm",
    )
    yield StationNumber(
        _("{side}: spindle {value} mm low").format(side=name, value=numeral(0.1)),
        mm(edge["low_by_tenth_land_mm"], 2),
        _("mm of flat"),
        note=_("a wider flat, a softer edge"),
    )
    loss = edge["high_by_tenth_height_loss_mm"]
    over = _("over-cut: this end loses {value} mm").format(value=mm(loss, 2))
    yield StationNumber(
        _("{side}: spindle {value} mm high").format(side=name, value=numeral(0.1)),
        mm(edge["high_by_tenth_land_mm"], 2),
        _("mm of flat"),
        note=over if loss else _("a sharper edge"),
    )
    if edge["advice"]:
        yield StationNumber(_("{side}: to mind").format(side=name), "", note=spoken(edge["advice"]))


def _coat(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    coats = (results["coats"] or {}).get("coats") or []
    if coat is None or coat >= len(coats):
        return
    this, recipe, film = coats[coat], inputs["finish"]["coats"][coat], results["coats"]
    yield StationNumber(_("Dry film of this coat"), f"{this['dry_film_um']:.0f}", "µm")
    if this["thinner_ml"]:
        mix = f"{this['unthinned_ml']:.0f} + {this['thinner_ml']:.0f}"
        yield StationNumber(_("Mix"), mix, "ml", note=_("material and thinner"))
    yield StationNumber(_("Area"), f"{this['area_m2'] * 1e4:.0f}", "cm²", note=_(recipe["surface"]))
    yield StationNumber(
        _("Stays on the shell"),
        f"{recipe['transfer_efficiency'] * 100:.0f}",
        "%",
        note=_("of what leaves the gun or pad"),
    )
    yield StationNumber(
        _("Film of all coats"),
        f"{film['outside_dry_film_um']:.0f}",
        _("µm dry"),
        note=_("outside; inside {value} µm").format(value=f"{film['inside_dry_film_um']:.0f}"),
    )
    if film["gloss_target_gu"] is not None:
        yield StationNumber(
            _("Gloss"), numeral(film["gloss_target_gu"]), _("GU at 60°"), note=spoken(film["gloss_advice"])
        )
    if (blend := film.get("gloss_base_pct")) is not None and recipe["stage"] == "clear":
        yield StationNumber(
            _("Gloss base in the blend"), f"{blend:.0f}", "%", note=_("the rest matt base; from your own drawdowns")
        )


def _wrap(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    wrap = results.get("wrap")
    if not wrap:
        return
    yield StationNumber(
        _("Adhesive"),
        f"{wrap['adhesive_wet_g']:.0f}",
        "g",
        note=_("on both surfaces together; {value} g dry").format(value=f"{wrap['adhesive_dry_g']:.0f}"),
    )
    yield StationNumber(_("At the overlap"), mm(wrap["diameter_at_overlap_mm"]), "mm", note=_("one sheet more"))
    yield StationNumber(
        _("Head fits over it"),
        _yes_or_no(wrap["head_fits"]),
        note=_("play {value} mm, at the overlap {overlap} mm").format(
            value=mm(wrap["head_play_mm"]), overlap=mm(wrap["head_play_at_overlap_mm"])
        ),
    )
    if wrap["pieces"] > 1:
        yield StationNumber(_("All pieces together"), mm(wrap["blank_length_mm"]), "mm")


def _drill(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    yield StationNumber(
        _("Round the outside"),
        mm(results["drilling"]["circumference_mm"]),
        "mm",
        note=_("by tape, over the wrap if there is one"),
    )
    for warning in results["drilling"]["warnings"]:
        yield StationNumber(_("To mind"), "", note=spoken(warning["message"]))


def _assemble(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    for bag in results["mass"]["bags"]:
        pieces = ngettext("{count} piece", "{count} pieces", bag["pieces"]).format(count=bag["pieces"])
        yield StationNumber(
            _("Bag {bag} weighs").format(bag=bag["bag"]),
            f"{numeral(bag['low_g'], '.1f')} … {numeral(bag['high_g'], '.1f')}",
            "g",
            note=f"{pieces}. {spoken(bag['advice'])}",
        )
    if rod := results["hardware"]["rod"]:
        yield StationNumber(
            _("Rod in the lug"),
            mm(rod["engagement_mm"]),
            "mm",
            note=_("{turns} turns of {pitch} mm").format(
                turns=f"{rod['turns']:.0f}", pitch=numeral(inputs["hardware"]["rod"]["pitch_mm"])
            ),
        )
    for line in results["hardware"]["pick_list"]:
        spare = " " + _("and {pieces} spare").format(pieces=line["spare"]) if line["spare"] else ""
        unit = ngettext("piece", "pieces", line["quantity"])
        yield StationNumber(line["name"], str(line["quantity"]), unit, note=(line["bag"] or _("loose")) + spare)


def _tune(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    tuning = results["tuning"]
    if not tuning:
        return
    for side in ("batter", "resonant"):
        head, name = tuning[side], side_in_words(side, True)
        yield StationNumber(
            _("{side}: drum sounds near").format(side=name),
            f"{head['fundamental_hz']:.0f}",
            "Hz",
            note=_("of an ideal head, struck in the middle"),
        )
        yield StationNumber(
            _("{side}: tension").format(side=name), f"{head['tension_n_per_m']:.0f}", "N/m", note=_("of an ideal head")
        )
        yield StationNumber(
            _("{side}: lug to lug").format(side=name),
            f"{head['low_hz']:.0f} … {head['high_hz']:.0f}",
            "Hz",
            note=_("± {value} cents").format(value=f"{head['evenness_cents']:.0f}"),
        )


def _pack(results: Results, inputs: Results, coat: int | None) -> Iterator[StationNumber]:
    mass, packing = results["mass"], results["packing"]
    yield StationNumber(
        _("Shell"),
        f"{mass['shell_g']:.0f}",
        "g",
        f"{mass['shell_low_g']:.0f} … {mass['shell_high_g']:.0f}",
        _("glue {glue} g in it, holes took {holes} g").format(
            glue=f"{mass['glue_solids_g']:.0f}", holes=f"{mass['removed_by_holes_g']:.0f}"
        ),
    )
    if (finish := mass.get("finish_g")) is not None:
        yield StationNumber(_("Finish"), f"{finish:.0f}", "g", note=_("dry"))
    spares = _("spares {value} g more").format(value=f"{mass['spares_g']:.0f}")
    yield StationNumber(_("Hardware"), f"{mass['hardware_g']:.0f}", "g", note=spares)
    yield StationNumber(
        _("Over hoops and lugs"),
        f"{packing['diameter_mm']:.0f} × {packing['length_mm']:.0f}",
        "mm",
        note=_("diameter, length"),
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
