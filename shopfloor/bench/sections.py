"""A whole spec as sections of labelled numbers and tables, for somebody who wants to see everything at once.

Labels and units come from the names of the fields, which carry both; ``field_words.py`` names the labels for catalogues.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, is_dataclass
from enum import Enum
from typing import Any

from django.utils.translation import gettext as _

from routing.languages import localized
from routing.spec_words import spoken
from routing.specs.sheet import SpecSheet

# Endings of field names and the units they stand for; longer endings first.
UNITS = (
    ("_g_per_m2", "g/m²"),
    ("_kg_per_m2", "kg/m²"),
    ("_kg_per_m3", "kg/m³"),
    ("_n_per_mm2", "N/mm²"),
    ("_n_per_m", "N/m"),
    ("_mm_per_degree", "mm/°"),
    ("_per_pct", "per % MC"),
    ("_m2", "m²"),
    ("_mm", "mm"),
    ("_um", "µm"),
    ("_ml", "ml"),
    ("_kn", "kN"),
    ("_hz", "Hz"),
    ("_deg", "°"),
    ("_pct", "%"),
    ("_min", "min"),
    ("_bar", "bar"),
    ("_kg", "kg"),
    ("_gu", "GU"),
    ("_in", "in"),
    ("_g", "g"),
    ("_h", "h"),
    ("_l", "l"),
    ("_n", "N"),
    ("_c", "°C"),
    ("_s", "s"),
)


@dataclass(frozen=True, slots=True)
class Line:
    key: str
    label: str
    value: str
    unit: str


@dataclass(frozen=True, slots=True)
class Table:
    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Section:
    key: str
    title: str
    lines: tuple[Line, ...]
    tables: tuple[Table, ...]


TITLES = {"layup": "lay-up", "snare_bed": "snare bed"}


def sections_of(sheet: SpecSheet) -> list[Section]:
    """Every section of a sheet that applies, in the order of work."""
    found = []
    for field in fields(sheet):
        part = getattr(sheet, field.name)
        if is_dataclass(part) and not isinstance(part, type):
            title = TITLES.get(field.name, field.name.replace("_", " "))
            found.append(_section(field.name, _(title.capitalize()), part))
    return found


def _section(key: str, title: str, part: Any) -> Section:
    lines: list[Line] = []
    tables: list[Table] = []
    _walk(key, "", part, lines, tables)
    return Section(key, title, tuple(lines), tuple(tables))


def _walk(key: str, before: str, part: Any, lines: list[Line], tables: list[Table]) -> None:
    for field in fields(part):
        if field.name == "warnings":
            continue
        value, place = getattr(part, field.name), f"{key}.{field.name}"
        label, unit = label_and_unit(field.name)
        label = f"{before} {label}".strip()
        if is_dataclass(value) and not isinstance(value, type):
            _walk(place, label, value, lines, tables)
        elif isinstance(value, Sequence) and not isinstance(value, str):
            if value and is_dataclass(value[0]):
                tables.append(_table(label, value))
            elif value and not isinstance(value[0], Sequence):
                lines.append(Line(place, label, ", ".join(shown(item) for item in value), unit))
        elif value is not None:
            lines.append(Line(place, label, shown(value), unit))


def _table(title: str, rows: Sequence[Any]) -> Table:
    names = [
        field.name
        for field in fields(rows[0])
        if field.name != "warnings" and not is_dataclass(getattr(rows[0], field.name))
    ]
    headings = tuple(f"{label}, {unit}" if unit else label for label, unit in map(label_and_unit, names))
    return Table(title, headings, tuple(tuple(_cell(getattr(row, name)) for name in names) for row in rows))


def _cell(value: Any) -> str:
    if isinstance(value, Sequence) and not isinstance(value, str):
        return ", ".join(shown(item) for item in value if not isinstance(item, Sequence) or isinstance(item, str))
    return "" if value is None else shown(value)


def label_and_unit(name: str) -> tuple[str, str]:
    """``outside_diameter_mm`` → ("outside diameter", "mm"), the label in the language that is spoken."""
    for ending, unit in UNITS:
        if name.endswith(ending) and len(name) > len(ending):
            return _(name[: -len(ending)].replace("_", " ")), unit
    return _(name.replace("_", " ")), ""


def shown(value: Any) -> str:
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    if isinstance(value, Enum):
        return _(str(value.value).replace("_", " "))
    if isinstance(value, float):
        # Two decimals of a millimetre are more than a shop can measure; small numbers keep three figures.
        return localized(f"{value:.2f}".rstrip("0").rstrip(".") if abs(value) >= 1 else f"{value:.3g}")
    return spoken(value) if isinstance(value, str) else str(value)
