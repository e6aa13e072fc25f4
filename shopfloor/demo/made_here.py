"""Sub-assemblies that the demo shop makes itself: short routes over its stations.

Cautions in the steps are the usual ones; the data sheets of solder and rubber cement come first.
"""

from __future__ import annotations

from typing import Any

# route fields, then (station, title, what is checked, wait after it in hours)
LOT_ROUTES: list[tuple[dict[str, Any], list[tuple[str, str, str, float]]]] = [
    (
        {"code": "wires", "name": "snare wires, 20 strands", "kind": "snare_wire", "unit": "sets"},
        [
            ("assemble", "Cut strands to length; ends are sharp, eye protection on", "All strands of one length", 0.0),
            (
                "assemble",
                "Solder to the end plates; lead-free, fumes drawn off, hot iron in its stand",
                "Every strand wetted, none bridged",
                1.0,
            ),
            ("tune", "Lay flat and count", "Flat on the plate, 20 strands, none slack", 0.0),
        ],
    ),
    (
        {"code": "lugs", "name": "lug, prepared", "kind": "hardware", "unit": "pieces"},
        [
            ("assemble", "Clean the castings, deburr the thread; eye protection on", "Thread clean, no burr", 0.0),
            ("assemble", "Felt and spring or nut in, gasket on", "Nut turns by finger, nothing rattles", 0.0),
        ],
    ),
    (
        {"code": "mounts", "name": "isolation mount", "kind": "hardware", "unit": "pieces"},
        [
            ("assemble", "Cut rubber to size, knife away from the hand", "Edges square", 0.0),
            ("assemble", "Cement rubber to the plate; gloves, fresh air, no flame near", "No edge lifts", 24.0),
            ("assemble", "Fit the screws to their torque", "Screws marked", 0.0),
        ],
    ),
]
