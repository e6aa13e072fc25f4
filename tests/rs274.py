"""A small interpreter of RS274/NGC words, written after the open text of NISTIR 6556, to replay drilling programs.

It knows the words a drilling program needs and refuses everything else, so that a program that strays is found. Rules of
the report that it holds programs to: words of one modal group at most once a line, comments not nested, lines of at most
256 characters, no motion word without axes, a canned cycle with R not below Z and a rotary axis that stands still.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

WORD = re.compile(r"([A-Z])\s*([+-]?\d+(?:\.\d*)?|[+-]?\.\d+)")
GROUPS = {
    "motion": {"G0", "G1", "G80", "G81"},
    "plane": {"G17"},
    "distance": {"G90", "G91"},
    "feed mode": {"G94"},
    "units": {"G20", "G21"},
    "radius": {"G40"},
    "length": {"G49"},
    "return": {"G98", "G99"},
    "stopping": {"M0", "M2", "M30"},
    "tool change": {"M6"},
    "spindle": {"M3", "M5"},
}


class ProgramError(ValueError):
    pass


@dataclass(frozen=True)
class Move:
    kind: str  # rapid or feed
    x: float
    y: float
    z: float
    a: float
    spindle_on: bool
    feed: float
    tool: int


@dataclass
class Machine:
    x: float = 0.0
    y: float = 0.0
    z: float = 0.0
    a: float = 0.0
    metric: bool = False
    absolute: bool = False
    motion: str = ""
    old_z_return: bool = False
    spindle_on: bool = False
    speed: float = 0.0
    feed: float = 0.0
    tool: int = 0
    chosen_tool: int = 0
    ended: bool = False
    sticky: dict[str, float] = field(default_factory=dict)
    moves: list[Move] = field(default_factory=list)

    def go(self, kind: str, **to: float) -> None:
        for axis, value in to.items():
            setattr(self, axis, value)
        if kind == "feed" and not self.feed > 0:
            raise ProgramError("feed move without a feed rate")
        self.moves.append(Move(kind, self.x, self.y, self.z, self.a, self.spindle_on, self.feed, self.tool))


def run(program: str, start: Machine | None = None) -> Machine:
    """Replay a whole program; a program between % lines ends at the second."""
    machine = start or Machine()
    lines = program.splitlines()
    if lines and lines[0].strip() == "%":
        if "%" not in (line.strip() for line in lines[1:]):
            raise ProgramError("the closing % is missing")
        lines = lines[1 : 1 + [line.strip() for line in lines[1:]].index("%")]
    for line in lines:
        if machine.ended:
            break
        step(machine, line)
    return machine


def step(machine: Machine, line: str) -> None:
    if len(line) > 256 or not line.isascii():
        raise ProgramError(f"line too long or not ASCII: {line!r}")
    bare = re.sub(r"\([^()]*\)", "", line).strip().upper()
    if "(" in bare or ")" in bare:
        raise ProgramError(f"brackets do not match: {line!r}")
    found = WORD.findall(bare)
    if WORD.sub("", bare).strip():
        raise ProgramError(f"not understood: {line!r}")
    codes: list[str] = []
    words: dict[str, float] = {}
    for letter, number in found:
        if letter in "GM":
            codes.append(f"{letter}{float(number):g}")
        elif letter in words:
            raise ProgramError(f"{letter} twice: {line!r}")
        else:
            words[letter] = float(number)
    for name, group in GROUPS.items():
        if sum(code in group for code in codes) > 1:
            raise ProgramError(f"two words of the {name} group: {line!r}")
    unknown = set(codes) - set().union(*GROUPS.values()) | words.keys() - set("XYZARFSTPHN")
    if unknown:
        raise ProgramError(f"unknown {unknown}: {line!r}")
    _set_modes(machine, codes, words)
    _act(machine, codes, words, line)


def _set_modes(machine: Machine, codes: list[str], words: dict[str, float]) -> None:
    machine.feed = words.get("F", machine.feed)
    machine.speed = words.get("S", machine.speed)
    machine.chosen_tool = int(words.get("T", machine.chosen_tool))
    for code in codes:
        if code in ("G20", "G21"):
            machine.metric = code == "G21"
        elif code in ("G90", "G91"):
            machine.absolute = code == "G90"
        elif code in ("G98", "G99"):
            machine.old_z_return = code == "G98"
        elif code == "M6":
            machine.tool, machine.spindle_on = machine.chosen_tool, False
        elif code == "M3":
            if not machine.speed > 0:
                raise ProgramError("spindle without a speed")
            machine.spindle_on = True
        elif code == "M5":
            machine.spindle_on = False
        elif code in GROUPS["motion"]:
            if code != machine.motion:
                machine.sticky = {}
            machine.motion = code


def _act(machine: Machine, codes: list[str], words: dict[str, float], line: str) -> None:
    axes = {letter: words[letter] for letter in "XYZA" if letter in words}
    if machine.motion == "G81" and (axes or "R" in words):
        _drill(machine, words, line)
    elif axes:
        if machine.motion not in ("G0", "G1"):
            raise ProgramError(f"axes without a motion: {line!r}")
        if not machine.absolute:
            raise ProgramError("only absolute programs are understood")
        machine.go("rapid" if machine.motion == "G0" else "feed", **{k.lower(): v for k, v in axes.items()})
    elif {"G0", "G1", "G81"} & set(codes):
        raise ProgramError(f"motion without axes: {line!r}")
    if {"M2", "M30"} & set(codes):
        machine.ended = True


def _drill(machine: Machine, words: dict[str, float], line: str) -> None:
    """G81: over to X Y, down to R, feed to Z, back up to the old Z (G98) or to R (G99)."""
    if not machine.absolute:
        raise ProgramError("only absolute programs are understood")
    if "A" in words and words["A"] != machine.a:
        raise ProgramError(f"the rotary axis moves in a canned cycle: {line!r}")
    machine.sticky |= {letter: words[letter] for letter in "RZ" if letter in words}
    if not {"R", "Z"} <= machine.sticky.keys():
        raise ProgramError(f"a canned cycle needs R and Z: {line!r}")
    clear, bottom = machine.sticky["R"], machine.sticky["Z"]
    if clear < bottom:
        raise ProgramError(f"R lies below Z: {line!r}")
    old = machine.z
    if old < clear:
        machine.go("rapid", z=clear)
    machine.go("rapid", x=words.get("X", machine.x), y=words.get("Y", machine.y))
    if machine.z != clear:
        machine.go("rapid", z=clear)
    machine.go("feed", z=bottom)
    machine.go("rapid", z=max(old, clear) if machine.old_z_return else clear)
