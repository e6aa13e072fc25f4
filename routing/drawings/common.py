"""One voice for all drawings: line weights, dimension lines and text as on a shop drawing. Lengths are in drawing units."""

from __future__ import annotations

import math
from html import escape

FACE = "DejaVu Sans Condensed, sans-serif"
HEAVY = 1.4
FIRM = 0.8
THIN = 0.4
TEXT = 7.0


def drawing(width: float, height: float, body: str, *, title: str, name: str) -> str:
    """A whole ``<svg>``, scalable, with its title as the words that stand for it."""
    return (
        f'<svg class="drawing {name}" viewBox="0 0 {width:.1f} {height:.1f}" role="img" '
        f'xmlns="http://www.w3.org/2000/svg" font-family="{FACE}" fill="none" stroke="currentColor">'
        f"<title>{escape(title)}</title>{body}</svg>"
    )


def line(x1: float, y1: float, x2: float, y2: float, *, weight: float = FIRM, dash: str = "") -> str:
    dashes = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="M{x1:.2f} {y1:.2f}L{x2:.2f} {y2:.2f}" stroke-width="{weight}"{dashes}/>'


def path(d: str, *, weight: float = FIRM, fill: str = "none") -> str:
    return f'<path d="{d}" stroke-width="{weight}" fill="{fill}" stroke-linejoin="round"/>'


def text(
    x: float, y: float, words: str, *, size: float = TEXT, anchor: str = "start", turn: float = 0, bold: bool = False
) -> str:
    turned = f' transform="rotate({turn:g} {x:.2f} {y:.2f})"' if turn else ""
    weight = ' font-weight="bold"' if bold else ""
    return (
        f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size:g}" text-anchor="{anchor}" fill="currentColor" '
        f'stroke="none"{weight}{turned}>{escape(words)}</text>'
    )


def dimension(x1: float, y1: float, x2: float, y2: float, words: str, *, off: float = 0, size: float = TEXT) -> str:
    """A dimension line with arrowheads between two points, moved sideways by ``off``, its words above the middle."""
    length = math.hypot(x2 - x1, y2 - y1) or 1.0
    ux, uy = (x2 - x1) / length, (y2 - y1) / length
    nx, ny = uy, -ux
    ax, ay, bx, by = x1 + nx * off, y1 + ny * off, x2 + nx * off, y2 + ny * off
    parts = []
    if off:
        over = math.copysign(1.5, off)
        parts.append(line(x1, y1, ax + nx * over, ay + ny * over, weight=THIN))
        parts.append(line(x2, y2, bx + nx * over, by + ny * over, weight=THIN))
    parts.append(line(ax, ay, bx, by, weight=THIN))
    head = min(4.0, length / 3)
    for px, py, direction in ((ax, ay, 1), (bx, by, -1)):
        ex, ey = px + ux * head * direction, py + uy * head * direction
        side = head * 0.28
        parts.append(
            path(
                f"M{px:.2f} {py:.2f}L{ex + nx * side:.2f} {ey + ny * side:.2f}L{ex - nx * side:.2f} {ey - ny * side:.2f}Z",
                weight=0,
                fill="currentColor",
            )
        )
    angle = math.degrees(math.atan2(uy, ux))
    if angle > 90 or angle <= -90:
        angle += 180
    radians = math.radians(angle)
    mx, my = (ax + bx) / 2, (ay + by) / 2
    parts.append(
        text(
            mx + math.sin(radians) * 2,
            my - math.cos(radians) * 2,
            words,
            size=size,
            anchor="middle",
            turn=round(angle, 2),
        )
    )
    return "".join(parts)
