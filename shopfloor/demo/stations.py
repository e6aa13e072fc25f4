"""Stations with their cautions, and the routes through them. Where local rules or a data sheet ask for more, they win."""

from __future__ import annotations

from typing import Any

STATIONS: list[dict[str, Any]] = [
    {
        "code": "cut",
        "name": "Cut",
        "kind": "cut",
        "caution": (
            "Saw and knife: guard and riving knife on, push stick, nobody in line with the blade: a pinched sheet is thrown "
            "back. Long sheets need a second support. Extraction on and a dust mask: hardwood dust harms the lungs and can "
            "cause cancer. Local rules for woodworking machines come first."
        ),
    },
    {
        "code": "press",
        "name": "Glue and press",
        "kind": "press",
        "caution": (
            "Hot mould: burns, and steam when it opens; stand aside and open slowly. Keep hands out of the closing gap. Air "
            "bag and rams hold great force: never open before the gauge shows zero, never feel for a leak with a hand. "
            "Urea glue gives off formaldehyde: extraction on, gloves, goggles. Read the glue's safety data sheet. Work "
            "on the pressure or electric system is for licensed people."
        ),
    },
    {
        "code": "trim",
        "name": "Trim",
        "kind": "trim",
        "caution": (
            "A round shell on a saw can climb or be thrown back: use the roller jig and the fence, raise the blade into the "
            "wood, keep both hands behind the cut, switch off while the shell still turns. Extraction and dust mask on. "
            "Local rules for woodworking machines come first."
        ),
    },
    {
        "code": "edge",
        "name": "Bearing edges",
        "kind": "edge",
        "caution": (
            "Spindle moulder and router: small passes against the cutter with ring fence or guide bearing, shell never between "
            "fence and cutter, no gloves or loose sleeves, wait until the spindle has stopped. A snatch throws the shell. "
            "Ear and eye protection, extraction, dust mask. Only for people trained on this machine."
        ),
    },
    {
        "code": "seal",
        "name": "Seal coat",
        "kind": "seal",
        "caution": (
            "Spray mist and solvent: booth fan on and filters clean before the gun, no flame or spark, mask as the safety data "
            "sheet says. Two-pack lacquers hold isocyanates, which can cause asthma for life: air-fed mask, "
            "nobody else in the room. Below the film-forming temperature do not spray."
        ),
    },
    {
        "code": "sand",
        "name": "Sand",
        "kind": "sand",
        "caution": (
            "Fine dust of hardwood and lacquer: extraction on, mask on, never blow down or sweep dry. A cloud of it can burn. "
            "Coats that have not cured must not be sanded dry: read the safety data sheet. Keep fingers clear of the belt."
        ),
    },
    {
        "code": "finish",
        "name": "Finish coat",
        "kind": "finish",
        "caution": (
            "Lacquer: booth fan on, mask as the safety data sheet says, air-fed for isocyanates, no flame or spark. Oil: rags "
            "heat up by themselves and catch fire: spread them flat outdoors or drop them into the lidded metal bin with "
            "water at once. Gloves."
        ),
    },
    {
        "code": "wrap",
        "name": "Wrap",
        "kind": "wrap",
        "caution": (
            "Contact adhesive: its vapour burns and makes dizzy. Fan on, no flame, no heat gun near the open tin, gloves. The "
            "sheet springs back and its corners cut; knife strokes go away from the hand. Follow the safety data sheet."
        ),
    },
    {
        "code": "drill",
        "name": "Drill",
        "kind": "drill",
        "caution": (
            "Clamp the shell in its cradle with the curved block behind the hole; a catching drill spins the shell. No gloves at "
            "the drill, hair and sleeves tied back, goggles on. A program is run dry first, away from the wood, with a "
            "hand on the stop button."
        ),
    },
    {
        "code": "assemble",
        "name": "Assemble",
        "kind": "assemble",
        "caution": (
            "Screws by hand and a quarter turn, washers under every one. Burrs and hoop rims cut; springs in strainers "
            "pinch. Lift bass drums with two people. Goggles when a power driver is used."
        ),
    },
    {
        "code": "tune",
        "name": "Tune",
        "kind": "tune",
        "caution": (
            "A head or rod can burst: keep your face from over the rods while you raise the pitch, and stop when one "
            "turns hard. Long tuning is loud: ear protection."
        ),
    },
    {
        "code": "final-check",
        "name": "Final check",
        "kind": "final_check",
        "caution": (
            "Ear protection for the rattle test. Spurs and wire ends are sharp. Lift bass drums with two people. What is not "
            "right is reported, not put right in passing."
        ),
    },
    {
        "code": "pack",
        "name": "Pack",
        "kind": "pack",
        "caution": (
            "Knife away from the hand and never into the carton with a drum in it. Cartons over 15 kg are lifted by two people "
            "or with the trolley."
        ),
    },
]

ROLES = ("snare", "rack_tom", "floor_tom", "bass")

# Per finish: station, repeat, kind of dwell after it. No hours stand here: press rest, coats and wrap bring their own.
_LACQUER: list[tuple[str, str, str]] = [
    ("cut", "once", ""),
    ("press", "once", "cure"),
    ("trim", "once", ""),
    ("edge", "once", ""),
    ("seal", "seal_coats", "dry"),
    ("sand", "once", ""),
    ("finish", "finish_coats", "dry"),
    ("drill", "once", ""),
    ("assemble", "once", ""),
    ("tune", "once", ""),
    ("final-check", "once", ""),
    ("pack", "once", ""),
]
_OIL: list[tuple[str, str, str]] = [
    ("cut", "once", ""),
    ("press", "once", "cure"),
    ("trim", "once", ""),
    ("edge", "once", ""),
    ("drill", "once", ""),
    ("sand", "once", ""),
    ("finish", "finish_coats", "dry"),
    ("assemble", "once", ""),
    ("tune", "once", ""),
    ("final-check", "once", ""),
    ("pack", "once", ""),
]
_WRAP: list[tuple[str, str, str]] = [
    ("cut", "once", ""),
    ("press", "once", "cure"),
    ("trim", "once", ""),
    ("edge", "once", ""),
    ("wrap", "once", "rest"),
    ("drill", "once", ""),
    ("assemble", "once", ""),
    ("tune", "once", ""),
    ("final-check", "once", ""),
    ("pack", "once", ""),
]
ROUTES: dict[str, list[tuple[str, str, str]]] = {"lacquer": _LACQUER, "oil": _OIL, "wrap": _WRAP}
ROUTE_NOTES = {
    "lacquer": "Edges before the finish, masked; holes after it, so that no lacquer runs into them.",
    "oil": "Edges and holes first, oil last by hand.",
    "wrap": "Edges, then the wrap over the bare shell, holes through both.",
}
# Tuned on a bench of its own; the other drums are tuned by whoever checks them.
TUNED_ROLES = frozenset({"snare"})
