"""The ring: a shell seen from above, one segment for each step of its route, clockwise from the top.

The shape of a segment says its state, so that it reads in black and white and at the size of a line of text:

* waiting: a narrow, thin outline; skipped: only a thin dashed arc
* ready: a heavy outline that reaches inward; in work: the same, its outer half filled
* drying: hatched; done: filled
* on hold: broken by a wedge that points into the drum

Classes let a page colour the states; the presentation attributes make the same ring without any stylesheet. The gap at
the top is twice as wide as the others: there the route begins.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from html import escape

from routing.drawings.common import FACE, text_width

INK = "currentColor"  # the colour of the text around it
OUTER, INNER = 48.0, 31.0  # the ring in its box of 100
NARROW_OUTER, NARROW_INNER = 44.0, 35.5  # steps that nobody works on
# Steps that somebody can work on now: far in, so that 24 px are enough to tell.
PRESENT_OUTER, PRESENT_INNER = 49.5, 18.0
PRESENT_LINE = 4.6
WEDGE_TIP, WEDGE_HALF = 13.0, 10.0
GAP = 2.4
KIT_WIDTH = 590.0  # of the sheet that a kit is drawn on, at least
HATCH_ANGLE = 6.5  # degrees between the hatch lines of a dwell
HATCH_SLANT = 17.0  # degrees that a hatch line runs round on its way out

WORDS = {
    "waiting": "waiting",
    "ready": "ready",
    "in_work": "in work",
    "drying": "drying or curing",
    "done": "done",
    "on_hold": "on hold",
    "skipped": "skipped",
}
PRESENT = ("on_hold", "in_work", "drying", "ready")  # what a reader wants to hear first

Arc = tuple[float, float]  # degrees clockwise from the top


@dataclass(frozen=True, slots=True)
class RingSegment:
    state: str
    label: str = ""


@dataclass(frozen=True, slots=True)
class KitDrum:
    """One drum of a kit: its nominal diameter sets the size of its ring."""

    diameter_in: float
    segments: Sequence[RingSegment]
    label: str
    detail: str = ""


def ring_svg(segments: Sequence[RingSegment], *, size_px: float | None = None, title: str | None = None) -> str:
    """One ring as an ``<svg>`` element.

    ``size_px`` sets width and height; None leaves the size to the page. ``title`` replaces the words made from the
    segments. A shell without steps is drawn as an empty ring. Raises ValueError for a state that is not known.
    """
    words = title if title is not None else ring_words(segments)
    size = "" if size_px is None else f' width="{size_px:g}" height="{size_px:g}"'
    return (
        f'<svg class="ring"{size} viewBox="0 0 100 100" role="img" xmlns="http://www.w3.org/2000/svg">'
        f"<title>{escape(words)}</title>{_body(tuple(segment.state for segment in segments))}</svg>"
    )


def present_step(segments: Sequence[RingSegment]) -> tuple[int, RingSegment] | None:
    """The step that a ring is about, with its place in the route; None when none is under way."""
    numbered = list(enumerate(segments, start=1))
    return next(((number, step) for state in PRESENT for number, step in numbered if step.state == state), None)


def ring_words(segments: Sequence[RingSegment]) -> str:
    """What the ring says, in words: “Step 5 of 13: edge, ready”."""
    if present := present_step(segments):
        number, segment = present
        label = f" {segment.label}," if segment.label else ""
        return f"Step {number} of {len(segments)}:{label} {WORDS[segment.state]}"
    if not segments:
        return "No steps yet"
    done = sum(segment.state == "done" for segment in segments)
    skipped = sum(segment.state == "skipped" for segment in segments)
    return f"{done} of {len(segments)} steps done" + (f", {skipped} skipped" if skipped else "")


def kit_svg(drums: Sequence[KitDrum], *, title: str | None = None, per_inch: float = 8.0) -> str:
    """The drums of a kit side by side at their true relative size, standing on one line, each with its label.

    ``per_inch`` is the width in drawing units of an inch of nominal diameter. Text keeps its size. A small kit is drawn on
    as wide a sheet as others, so that an inch is the same in all of them.
    """
    size, space, margin = 9.0, 14.0, 2.0
    tallest = max((drum.diameter_in for drum in drums), default=1.0) * per_inch
    x = margin
    parts = []
    for drum in drums:
        across = drum.diameter_in * per_inch
        room = max(across, text_width(drum.label, size, bold=True), text_width(drum.detail, size))
        middle = x + room / 2
        scale = across / 100
        parts.append(
            f'<g transform="translate({middle - across / 2:.2f} {margin + tallest - across:.2f}) scale({scale:.4f})">'
            f"{_body(tuple(segment.state for segment in drum.segments))}</g>"
        )
        for line, (words, weight) in enumerate(((drum.label, ' font-weight="bold"'), (drum.detail, ""))):
            if words:
                parts.append(
                    f'<text x="{middle:.2f}" y="{margin + tallest + 13 + 11 * line:.2f}" font-size="{size:g}" '
                    f'text-anchor="middle" fill="{INK}"{weight}>{escape(words)}</text>'
                )
        x += room + space
    width = max(x - space + margin, KIT_WIDTH)
    words = title if title is not None else "; ".join(f"{drum.label}: {ring_words(drum.segments)}" for drum in drums)
    return (
        f'<svg class="kit" viewBox="0 0 {width:.1f} {tallest + 30:.1f}" role="img" '
        f'xmlns="http://www.w3.org/2000/svg" font-family="{FACE}"><title>{escape(words or "No drums yet")}</title>'
        f"{''.join(parts)}</svg>"
    )


@lru_cache(maxsize=4096)
def _body(states: tuple[str, ...]) -> str:
    """The paths of a ring: one or two for each state, so that a long route stays a handful of elements.

    Many shells stand at the same step of the same route, hence the cache.
    """
    if not states:
        return f'<circle class="ring-waiting" cx="50" cy="50" r="40" fill="none" stroke="{INK}" stroke-width="1.8"/>'
    seam = GAP / 2 / OUTER * 180 / math.pi  # half of what the gap at the top is wider
    step = (360 - 2 * seam) / len(states)
    by_state: dict[str, list[Arc]] = {}
    for number, state in enumerate(states):
        if state not in _DRAW:
            raise ValueError(f"unknown state {state!r}; known are {', '.join(_DRAW)}")
        by_state.setdefault(state, []).append((seam + number * step, seam + (number + 1) * step))
    # Those that reach out of the ring come last, over their neighbours.
    return "".join(draw(by_state[state]) for state, draw in _DRAW.items() if state in by_state)


def _point(radius: float, angle: float) -> str:
    radians = math.radians(angle)
    return f"{50 + radius * math.sin(radians):.2f} {50 - radius * math.cos(radians):.2f}"


def _cut(arc: Arc, radius: float, inset: float) -> Arc:
    """The arc at a radius, its ends moved inward by ``inset`` units, so that gaps have parallel sides."""
    start, end = arc
    by = min(math.degrees(math.asin(min(inset / radius, 1.0))), (end - start) * 0.4)
    return start + by, end - by


def _sector(arc: Arc, inner: float, outer: float, *, inset: float = GAP / 2) -> str:
    a, b = _cut(arc, outer, inset)
    c, d = _cut(arc, inner, inset)
    far, near = int(b - a > 180), int(d - c > 180)
    return (
        f"M{_point(outer, a)}A{outer:g} {outer:g} 0 {far} 1 {_point(outer, b)}"
        f"L{_point(inner, d)}A{inner:g} {inner:g} 0 {near} 0 {_point(inner, c)}Z"
    )


def _path(classes: str, d: str, *, fill: str = "none", width: float = 0, extra: str = "") -> str:
    line = f' stroke="{INK}" stroke-width="{width:g}"' if width else ' stroke="none"'
    return f'<path class="{classes}" d="{d}" fill="{fill}"{line}{extra}/>'


def _waiting(arcs: list[Arc]) -> str:
    d = "".join(_sector(arc, NARROW_INNER, NARROW_OUTER, inset=GAP / 2 + 0.9) for arc in arcs)
    return _path("ring-waiting", d, fill="#fff", width=1.8)


def _skipped(arcs: list[Arc]) -> str:
    radius = (NARROW_INNER + NARROW_OUTER) / 2
    d = ""
    for arc in arcs:
        start, end = _cut(arc, radius, GAP / 2 + 1)
        d += f"M{_point(radius, start)}A{radius:g} {radius:g} 0 {int(end - start > 180)} 1 {_point(radius, end)}"
    return _path("ring-skipped", d, width=1.8, extra=' stroke-dasharray="3.2 2.4"')


def _drying(arcs: list[Arc]) -> str:
    frames = "".join(_sector(arc, INNER + 0.8, OUTER - 0.8, inset=GAP / 2 + 0.8) for arc in arcs)
    hatch = ""
    for arc in arcs:
        start, end = _cut(arc, INNER, GAP / 2 + 0.8)
        first = start - HATCH_SLANT + HATCH_ANGLE / 2
        for number in range(int((end - first) / HATCH_ANGLE) + 1):
            foot = first + number * HATCH_ANGLE
            # A line runs from the foot at the inner edge to foot + slant at the outer one; only what lies inside counts.
            low = max(0.0, (start - foot) / HATCH_SLANT)
            high = min(1.0, (end - foot) / HATCH_SLANT)
            if high - low > 0.08:
                near, far = (INNER + 1 + t * (OUTER - INNER - 2) for t in (low, high))
                hatch += f"M{_point(near, foot + low * HATCH_SLANT)}L{_point(far, foot + high * HATCH_SLANT)}"
    return _path("ring-dry", frames, fill="#fff", width=1.6) + _path("ring-hatch", hatch, width=2)


def _done(arcs: list[Arc]) -> str:
    return _path("ring-done", "".join(_sector(arc, INNER, OUTER) for arc in arcs), fill=INK)


def _ready(arcs: list[Arc]) -> str:
    half = PRESENT_LINE / 2
    d = "".join(_sector(arc, PRESENT_INNER + half, PRESENT_OUTER - half, inset=GAP / 4 + half) for arc in arcs)
    return _path("ring-ready ring-now", d, fill="#fff", width=PRESENT_LINE, extra=' stroke-linejoin="round"')


def _in_work(arcs: list[Arc]) -> str:
    half = PRESENT_LINE / 2
    frame = "".join(_sector(arc, PRESENT_INNER + half, PRESENT_OUTER - half, inset=GAP / 4 + half) for arc in arcs)
    middle = (PRESENT_INNER + PRESENT_OUTER) / 2
    core = "".join(_sector(arc, middle, PRESENT_OUTER - half, inset=GAP / 4 + half) for arc in arcs)
    return _path(
        "ring-in-work ring-now", frame, fill="#fff", width=PRESENT_LINE, extra=' stroke-linejoin="round"'
    ) + _path("ring-work", core, fill=INK)


def _on_hold(arcs: list[Arc]) -> str:
    """Where the segment is wide enough its two remains stand beside the wedge; else the wedge is all of it."""
    remains = wedges = ""
    for arc in arcs:
        start, end = arc
        middle, radians = (start + end) / 2, math.radians(end - start)
        room = (OUTER * math.sin(radians / 2) if radians < math.pi else OUTER) - GAP / 2
        half = min(WEDGE_HALF, max(room, 2.0))
        turn = math.degrees(math.asin(half / PRESENT_OUTER))
        wedges += (
            f"M{_point(PRESENT_OUTER, middle - turn)}A{PRESENT_OUTER:g} {PRESENT_OUTER:g} 0 0 1 "
            f"{_point(PRESENT_OUTER, middle + turn)}L{_point(WEDGE_TIP, middle)}Z"
        )
        if room - half > 12:
            clear = math.degrees((half + GAP) / PRESENT_OUTER)
            for side in ((start, middle - clear), (middle + clear, end)):
                remains += _sector(side, INNER + 1.3, OUTER - 1.3, inset=GAP / 2 + 1.3)
    held = _path("ring-held", remains, fill="#fff", width=2.6) if remains else ""
    return held + _path("ring-on-hold ring-wedge", wedges, fill=INK)


_DRAW: dict[str, Callable[[list[Arc]], str]] = {
    "waiting": _waiting,
    "skipped": _skipped,
    "drying": _drying,
    "done": _done,
    "ready": _ready,
    "in_work": _in_work,
    "on_hold": _on_hold,
}
