"""The people of the demo shop, all invented, with the passwords and PINs that the demo command prints.

They are public, so a shop that takes tablets online with them has no lock on its door; the command says so.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class DemoPerson:
    username: str
    name: str
    role: str
    password: str
    pin: str  # empty: does not sign on the floor
    stations: tuple[str, ...] = ()  # qualified here; "-" before a code: was, until last year


WOOD = ("cut", "press", "trim", "edge")
COATS = ("seal", "sand", "finish", "wrap")
BENCH = ("drill", "assemble", "tune", "pack")
EVERYWHERE = (*WOOD, *COATS, *BENCH)

PEOPLE: list[DemoPerson] = [
    DemoPerson("bram", "Bram Coppicewood", "worker", "wood-before-noon", "204681", WOOD),
    DemoPerson("dilys", "Dilys Thornbeck", "worker", "wood-after-noon", "731946", (*WOOD, "drill")),
    DemoPerson("ewan", "Ewan Sallowfield", "worker", "two-thin-coats", "518307", (*COATS, "-edge")),
    DemoPerson("fenna", "Fenna Brookmarsh", "worker", "dust-free-room", "962074", COATS),
    DemoPerson("hal", "Hal Underhazel", "worker", "right-hand-thread", "340859", BENCH),
    DemoPerson("jory", "Jory Wetherdale", "worker", "star-pattern-tune", "687215", ("assemble", "tune", "pack")),
    # Still learning: whoever signs in here sees what it is like not to be qualified.
    DemoPerson("kit", "Kit Larkrigg", "worker", "first-week-here", "159438", ("cut", "pack")),
    DemoPerson(
        "una",
        "Una Reedholme",
        "final_checker",
        "name-on-the-card",
        "826703",
        ("final-check", "assemble", "tune", "pack"),
    ),
    DemoPerson("vesna", "Vesna Marlpitt", "final_checker", "light-from-below", "475190", ("final-check", "pack")),
    DemoPerson("greta", "Greta Holmwater", "supervisor", "every-ring-closed", "913562", (*EVERYWHERE, "final-check")),
    DemoPerson("oona", "Oona Fairsluice", "office", "orders-come-first", ""),
    DemoPerson("ada", "Ada Millwright-Penn", "administrator", "keys-of-the-mill", ""),
]
TRAINED_BY = "greta"
