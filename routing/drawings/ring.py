"""The ring: a shell seen from above, one segment for each step of its route, clockwise from the top.

The shape of a segment says its state, so that it reads in black and white: waiting is a thin outline, ready a heavy
one, in work a heavy outline with a core, drying hatched, done filled, on hold broken by a wedge, skipped dashed.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

BOX = 100.0  # side of the drawing's own square
OUTER = 48.0
INNER = 31.0
INK = "currentColor"  # the colour of the text around it
WORDS = {
    "waiting": "waiting",
    "ready": "ready",
    "in_work": "in work",
    "drying": "drying or curing",
    "done": "done",
    "on_hold": "on hold",
    "skipped": "skipped",
}


@dataclass(frozen=True, slots=True)
class RingSegment:
    state: str
    label: str = ""


def ring_svg(segments: Sequence[RingSegment], *, size_px: float | None = None, title: str | None = None) -> str:
    """One ring as an ``<svg>`` element.

    ``size_px`` sets width and height; None leaves the size to the page. ``title`` replaces the words made from the
    segments. A shell without steps is drawn as an empty ring. Raises ValueError for a state that is not known.
    """
    words = title if title is not None else ring_words(segments)
    size = "" if size_px is None else f' width="{size_px:g}" height="{size_px:g}"'
    body = "".join(_paths(segments)) or _empty()
    return (
        f'<svg class="ring"{size} viewBox="0 0 100 100" role="img" xmlns="http://www.w3.org/2000/svg">'
        f"<title>{escape(words)}</title>{body}</svg>"
    )


def ring_words(segments: Sequence[RingSegment]) -> str:
    """What the ring says, in words: “step 5 of 13: edge, ready”."""
    for number, segment in enumerate(segments, start=1):
        if segment.state in {"ready", "in_work", "on_hold", "drying"}:
            label = f" {segment.label}," if segment.label else ""
            return f"Step {number} of {len(segments)}:{label} {WORDS[segment.state]}"
    done = sum(segment.state == "done" for segment in segments)
    return f"{done} of {len(segments)} steps done" if segments else "No steps yet"


def _paths(segments: Sequence[RingSegment]) -> Iterable[str]:
    """One path for each state, so that a ring of many steps stays a handful of elements."""
    if not segments:
        return
    step = 360 / len(segments)
    gap = min(3.0, step * 0.16)
    by_state: dict[str, list[tuple[float, float]]] = {}
    for number, segment in enumerate(segments):
        if segment.state not in WORDS:
            raise ValueError(f"unknown state {segment.state!r}")
        by_state.setdefault(segment.state, []).append((number * step + gap / 2, (number + 1) * step - gap / 2))
    for state, arcs in by_state.items():
        yield from _DRAW[state](arcs)


def _sector(start: float, end: float, inner: float = INNER, outer: float = OUTER) -> str:
    """A piece of the ring between two angles, degrees clockwise from the top."""
    large = 1 if end - start > 180 else 0
    a, b = _point(outer, start), _point(outer, end)
    c, d = _point(inner, end), _point(inner, start)
    return f"M{a}A{outer:g} {outer:g} 0 {large} 1 {b}L{c}A{inner:g} {inner:g} 0 {large} 0 {d}Z"


def _point(radius: float, angle: float) -> str:
    radians = math.radians(angle)
    return f"{50 + radius * math.sin(radians):.2f} {50 - radius * math.cos(radians):.2f}"


def _path(name: str, d: str, *, fill: str = "none", stroke: str = INK, width: float = 0, extra: str = "") -> str:
    line = f' stroke="{stroke}" stroke-width="{width:g}" stroke-linejoin="round"' if width else ""
    return f'<path class="ring-{name}" d="{d}" fill="{fill}"{line}{extra}/>'


def _waiting(arcs: list[tuple[float, float]]) -> Iterable[str]:
    yield _path("waiting", "".join(_sector(*arc, INNER + 5, OUTER - 5) for arc in arcs), width=1.4)


def _ready(arcs: list[tuple[float, float]]) -> Iterable[str]:
    yield _path("ready", "".join(_sector(*arc, INNER + 1, OUTER - 1) for arc in arcs), fill="#fff", width=5)


def _in_work(arcs: list[tuple[float, float]]) -> Iterable[str]:
    yield _path("in_work", "".join(_sector(*arc, INNER + 1, OUTER - 1) for arc in arcs), fill="#fff", width=5)
    middle = (INNER + OUTER) / 2
    cores = "".join(_sector(s + (e - s) * 0.3, e - (e - s) * 0.3, middle - 3, middle + 3) for s, e in arcs)
    yield _path("in_work", cores, fill=INK)


def _drying(arcs: list[tuple[float, float]]) -> Iterable[str]:
    yield _path("drying", "".join(_sector(*arc, INNER, OUTER) for arc in arcs), fill="#fff", width=1.6)
    hatch = ""
    for start, end in arcs:
        count = max(2, round((end - start) / 5))
        for n in range(1, count):
            angle = start + (end - start) * n / count
            hatch += f"M{_point(INNER, angle)}L{_point(OUTER, min(angle + 3, end))}"
    yield _path("drying", hatch, width=2)


def _done(arcs: list[tuple[float, float]]) -> Iterable[str]:
    yield _path("done", "".join(_sector(*arc) for arc in arcs), fill=INK)


def _on_hold(arcs: list[tuple[float, float]]) -> Iterable[str]:
    """The segment is broken open by a wedge that points to the middle of the drum."""
    edges = wedges = ""
    for start, end in arcs:
        middle, half = (start + end) / 2, min((end - start) / 2, 9.0)
        edges += _sector(start, end, INNER, OUTER)
        wedges += (
            f"M{_point(OUTER + 2, middle - half)}L{_point(OUTER + 2, middle + half)}L{_point(INNER - 12, middle)}Z"
        )
    yield _path("on_hold", edges, fill="#fff", width=1.6)
    yield _path("on_hold", wedges, fill=INK, stroke="#fff", width=1.5)


def _skipped(arcs: list[tuple[float, float]]) -> Iterable[str]:
    d = "".join(_sector(*arc, INNER + 5, OUTER - 5) for arc in arcs)
    yield _path("skipped", d, width=1.2, extra=' stroke-dasharray="3 3"')


def _empty() -> str:
    return f'<circle class="ring-waiting" cx="50" cy="50" r="{(INNER + OUTER) / 2:g}" fill="none" stroke="{INK}" stroke-width="1.4"/>'


_DRAW = {
    "waiting": _waiting,
    "ready": _ready,
    "in_work": _in_work,
    "drying": _drying,
    "done": _done,
    "on_hold": _on_hold,
    "skipped": _skipped,
}
