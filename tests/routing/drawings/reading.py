"""Reads a drawing back as a draughtsman would: points, lines and words with the room they take."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass

from routing.drawings.common import text_width

NS = "{http://www.w3.org/2000/svg}"
Point = tuple[float, float]
_NUMBERS = {"M": 2, "L": 2, "H": 1, "V": 1, "A": 7, "Z": 0}


@dataclass(frozen=True)
class Words:
    text: str
    box: tuple[float, float, float, float]


def root(svg: str) -> ET.Element:
    return ET.fromstring(svg)


def box_of(svg: str) -> tuple[float, float]:
    _, _, width, height = map(float, (root(svg).get("viewBox") or "").split())
    return width, height


def strokes(svg: str, weight: float, dash: str | None = None) -> list[list[Point]]:
    """The lines of one weight, each as its corner points; arcs give their end points."""
    found: list[list[Point]] = []
    for path in root(svg).iter(f"{NS}path"):
        if path.get("stroke-width") == f"{weight:g}" and path.get("stroke-dasharray") == dash:
            found.extend(points_of(path.get("d") or ""))
    return found


def solids(svg: str) -> list[list[Point]]:
    return [
        points
        for path in root(svg).iter(f"{NS}path")
        if path.get("fill") == "currentColor"
        for points in points_of(path.get("d") or "")
    ]


def points_of(d: str) -> list[list[Point]]:
    lines: list[list[Point]] = []
    x = y = 0.0
    for command, rest in re.findall(r"([MLHVAZmlhvaz])([^MLHVAZmlhvaz]*)", d):
        numbers = [float(n) for n in re.findall(r"-?(?:\d+\.?\d*|\.\d+)", rest)]
        size = _NUMBERS[command.upper()]
        relative = command.islower()
        for part in [numbers[n : n + size] for n in range(0, len(numbers), size)] if size else [[]]:
            if command in "Zz":
                lines[-1].append(lines[-1][0])
                x, y = lines[-1][0]
                continue
            if command in "Hh":
                x = part[0] + (x if relative else 0)
            elif command in "Vv":
                y = part[0] + (y if relative else 0)
            else:
                x, y = part[-2] + (x if relative else 0), part[-1] + (y if relative else 0)
            if command in "Mm":
                lines.append([])
            lines[-1].append((x, y))
    return lines


def circles(svg: str, weight: float) -> list[tuple[Point, float]]:
    """Middle and radius of each full circle of a line weight."""
    found = []
    for path in root(svg).iter(f"{NS}path"):
        if path.get("stroke-width") == f"{weight:g}":
            for x, y, r in re.findall(r"M(-?[\d.]+) (-?[\d.]+)a([\d.]+) \3 0 1", path.get("d") or ""):
                found.append(((float(x) + float(r), float(y)), float(r)))
    return found


def words(svg: str) -> list[Words]:
    found = []
    for text in root(svg).iter(f"{NS}text"):
        x, y, size = float(text.get("x", 0)), float(text.get("y", 0)), float(text.get("font-size", 0))
        wide = text_width(text.text or "", size, bold=text.get("font-weight") == "bold")
        left = {"start": 0.0, "middle": -wide / 2, "end": -wide}[text.get("text-anchor", "start")]
        box = (left, -0.73 * size, left + wide, 0.0)
        turned = re.match(r"rotate\((-?[\d.]+) ", text.get("transform") or "")
        turn = float(turned[1]) if turned else 0.0
        if turn == -90:  # read from the right: along the line is up
            box = (box[1], -box[2], box[3], -box[0])
        elif turn:
            raise AssertionError(f"words turned by {turn}°: {text.text}")
        found.append(Words(text.text or "", (x + box[0], y + box[1], x + box[2], y + box[3])))
    return found


def overlapping(found: list[Words], slack: float = 0.3) -> list[tuple[str, str]]:
    return [
        (a.text, b.text)
        for n, a in enumerate(found)
        for b in found[n + 1 :]
        if min(a.box[2], b.box[2]) - max(a.box[0], b.box[0]) > slack
        and min(a.box[3], b.box[3]) - max(a.box[1], b.box[1]) > slack
    ]
