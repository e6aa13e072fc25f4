"""What is looked at or measured before a step is signed.

Limits are those of common practice, from memory, unless the row says otherwise; nominal values with a place in the
spec follow each drum. A step asks for as few as it can: a tap must cost seconds.
"""

from __future__ import annotations

from typing import Any


def _ask(code: str, station: str, text: str, **only: str) -> dict[str, Any]:
    return {"code": code, "station": station, "text": text, "kind": "yes_no"} | only


def _measure(
    code: str,
    station: str,
    text: str,
    unit: str,
    *,
    key: str = "",
    nominal: float | None = None,
    minus: float | None = None,
    plus: float | None = None,
    **only: Any,
) -> dict[str, Any]:
    limits = {"spec_key": key, "nominal": nominal, "minus": minus, "plus": plus}
    return {"code": code, "station": station, "text": text, "kind": "measured", "unit": unit} | limits | only


def _count(code: str, station: str, text: str, key: str, **only: Any) -> dict[str, Any]:
    return {"code": code, "station": station, "text": text, "kind": "count", "spec_key": key} | only


CHECK_POINTS: list[dict[str, Any]] = [
    _measure("plate-moisture", "cut", "Measure the moisture of one plate", "%", nominal=8.0, minus=2.0, plus=2.0),
    _measure(
        "plate-thickness",
        "cut",
        "Thickness of the outer plate by micrometer",
        "mm",
        key="layup.plates.0.thickness_mm",
        minus=0.25,
        plus=0.25,
    ),
    _ask("plates-sound", "cut", "Plates free of splits, knots and open joints; grain as listed"),
    _ask("seams-fit", "cut", "Dry fit in the mould: every seam closes without force"),
    _measure(
        "glue-age",
        "press",
        "Minutes since this glue was mixed",
        "min",
        key="gluing.clocks.pot_life_min",
        plus=0.0,
    ),
    _ask("glue-line", "press", "Even squeeze-out all round, no dry place"),
    _ask("pressure-held", "press", "Pressure held to the end of the time, mould cool before it was opened"),
    _measure(
        "outside-diameter",
        "trim",
        "Outside diameter by pi tape",
        "mm",
        key="shell.outside_diameter_mm",
        minus=0.8,
        plus=0.8,
        tolerance_key="shell.tolerances.outside_diameter.accept_mm",
    ),
    _measure(
        "wall",
        "trim",
        "Wall at the worst of eight points",
        "mm",
        key="layup.wall_mm",
        minus=0.3,
        plus=0.3,
        tolerance_key="shell.tolerances.wall.accept_mm",
    ),
    _measure(
        "depth",
        "trim",
        "Depth at the worst of eight points",
        "mm",
        key="shell.depth_mm",
        minus=0.5,
        plus=0.5,
        tolerance_key="shell.tolerances.depth.accept_mm",
    ),
    _measure(
        # Published: leave out a shell that is 1/16 in (1.6 mm) out of round.
        "roundness",
        "trim",
        "Diameter in four directions by calliper; largest less smallest",
        "mm",
        nominal=0.0,
        plus=1.5,
        places=4,
        judged="spread",
        tolerance_key="shell.tolerances.roundness.accept_mm",
    ),
    _measure(
        "edge-gap",
        "edge",
        "Largest gap on the flat plate, by feeler",
        "mm",
        nominal=0.0,
        plus=0.10,
        tolerance_key="shell.tolerances.edge_flatness.accept_mm",
    ),
    _ask("edge-land", "edge", "Land even all round on both edges, no chip at the apex"),
    _ask("snare-beds", "edge", "Snare beds opposite each other, equally deep, smooth ramps", role="snare"),
    _measure("seal-room", "seal", "Temperature of the room", "°C", nominal=21.0, minus=5.0, plus=8.0),
    _measure(
        "seal-film",
        "seal",
        "Wet film by comb",
        "µm",
        key="coats.coats.{coat}.wet_film_um",
        minus=20.0,
        plus=20.0,
    ),
    _ask("seal-even", "seal", "Even, wet edge kept, edges masked"),
    _ask("sand-through", "sand", "No sand-through, no scratch across the grain"),
    _ask("sand-dust", "sand", "Dust off, inside and outside"),
    _measure(
        "finish-room",
        "finish",
        "Temperature of the room",
        "°C",
        nominal=21.0,
        minus=5.0,
        plus=8.0,
        finish_kind="lacquer",
    ),
    _measure(
        "finish-film",
        "finish",
        "Wet film by comb",
        "µm",
        key="coats.coats.{coat}.wet_film_um",
        minus=20.0,
        plus=20.0,
        finish_kind="lacquer",
    ),
    _ask("finish-faults", "finish", "No run, crater, dust or dry place"),
    _ask("oil-wiped", "finish", "No wet oil left standing; rags in the water bin", finish_kind="oil"),
    _ask("wrap-seam", "wrap", "Overlap lies flat under the row of lugs, corners closed"),
    _ask("wrap-bubbles", "wrap", "No bubble, no wrinkle"),
    _measure(
        "wrap-shy",
        "wrap",
        "Free strip at the bearing edges, the narrowest",
        "mm",
        key="wrap.shy_mm",
        minus=1.0,
        plus=2.0,
    ),
    _measure(
        "hole-place",
        "drill",
        "Largest error of a hole against the template",
        "mm",
        nominal=0.0,
        minus=0.0,
        plus=0.5,
    ),
    _ask("hole-clean", "drill", "Holes deburred, no chip that a foot would not hide"),
    _ask("lugs-opposite", "drill", "Lugs of both heads in line; strainer opposite the butt plate", role="snare"),
    _ask("bags-weighed", "assemble", "Every bag weighed within its window before it was opened"),
    _ask("screws-washers", "assemble", "A washer under every screw, all screws tight, nothing left over"),
    _measure(
        # From memory, no source: small machine screws into lugs through wood. A shop sets its own.
        "lug-screw-torque",
        "assemble",
        "Torque of the lug screws, three picked at random",
        "N·m",
        nominal=2.0,
        minus=0.7,
        plus=0.7,
        places=3,
    ),
    _count("rods-counted", "assemble", "Tension rods on the drum", "hardware.rods"),
    _ask("rods-free", "assemble", "Every rod runs in by finger"),
    _ask("spurs-level", "assemble", "Spurs equal, front hoop a finger's width off the floor", role="bass"),
    _ask("legs-level", "assemble", "Stands level on three legs without rocking", role="floor_tom"),
    _measure(
        # ± 3 Hz lug to lug: common practice, no source. Touch the middle of the head lightly and tap an inch from each lug.
        "batter-even",
        "tune",
        "Batter: pitch at each lug, in order round the head",
        "Hz",
        key="tuning.batter.target_hz",
        minus=3.0,
        plus=3.0,
        places_key="drilling.lugs_per_head",
    ),
    _measure(
        "snare-side-even",
        "tune",
        "Snare side: pitch at each lug, in order round the head",
        "Hz",
        key="tuning.resonant.target_hz",
        minus=3.0,
        plus=3.0,
        places_key="drilling.lugs_per_head",
    ),
    _ask("strainer-works", "tune", "Strainer on and off ten times: wires seat and let go"),
    _ask("no-rattle", "tune", "No rattle, no choke, from the softest to the loudest stroke"),
    _ask("positions", "final-check", "Lugs, mounts, badge and vent stand where the drawing has them"),
    _ask("rods-turn", "final-check", "Every rod turns, none is cross-threaded"),
    _ask("drum-clean", "final-check", "Clean inside and out: no dust, no glue, no finger marks"),
    _ask("parts-complete", "final-check", "Every part of the list is on the drum or in its bag"),
    _count("parts-counted", "final-check", "Parts counted that come in no bag", "hardware.pick_list[]"),
    _measure(
        # ± 5 units: from memory, no source; the same stands with the numbers of the station.
        "gloss",
        "final-check",
        "Gloss at 60°, middle of the front",
        "GU",
        key="coats.gloss_target_gu",
        minus=5.0,
        plus=5.0,
        finish_kind="lacquer",
    ),
    _ask("finish-faultless", "final-check", "Finish without fault at arm's length in good light, all sides"),
    _ask("edges-clean", "final-check", "Heads spin freely, edges clean and waxed"),
    _ask("metal-faultless", "final-check", "Metal without pits or scratches on the front"),
    _ask("badge-straight", "final-check", "Badge straight, serial readable, vent open"),
    _ask("sounds-right", "final-check", "Sounds as it should, nothing buzzes"),
    _ask("card-in", "pack", "Signed card, key, spare parts and care sheet are in the carton"),
    _ask("padded", "pack", "Drum padded at both hoops, wires and heads protected"),
]
