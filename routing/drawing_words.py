"""The words on a drawing in the language that is spoken. The drawings themselves are pure and know English."""

from __future__ import annotations

import re

from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from routing.languages import localized, present_language

_TEXT = re.compile(r"(<(text|title)\b[^>]*>)([^<]*)(?=</\2>)")
_FIGURES = re.compile(r"[-+\d.,:°×…/ –]*(?:mm|R|Ø)?[-+\d.,:°×…/ –]*")
# What a drawing says → how it is said; the names of plates and parts are the shop's own.
_NAMES = {"name", "names"}


def _place(name: str) -> str:
    return rf"(?P<{name}>{'.+' if name in _NAMES else '[0-9.]+'})"


_SAID = [
    # a figure in each place, or names
    (re.compile(re.sub(r"\\\{(\w+)\\\}", lambda at: _place(at[1]), re.escape(said))), said)
    for said in (
        gettext_noop("outside"),
        gettext_noop("inside"),
        gettext_noop("head"),
        gettext_noop("seam"),
        gettext_noop("seam {angle}°"),
        gettext_noop("seams seen from batter side"),
        gettext_noop("batter edge  0"),
        gettext_noop("wall {value}"),
        gettext_noop("wall {value} mm, {veneers} veneers"),
        gettext_noop("apex at the outside"),
        gettext_noop("carton inside {value}"),
        gettext_noop("apex {value}"),
        gettext_noop("cutter leaves {value} flat; true it away"),
        gettext_noop("dashed: snare bed, {value} deep"),
        gettext_noop("once round: {value} mm"),
        gettext_noop("{value} mm along the grain"),
        gettext_noop("grain"),
        gettext_noop("sheet {number}, {share} % used"),
        gettext_noop("Lay-up of {plates} plates, {veneers} veneers, wall {value} mm, outside on top"),
        gettext_noop(
            "Bearing edge {name}, wall {value} mm, apex {apex} mm from the outside, angles from the head plane"
        ),
        gettext_noop("Hole map, outside unrolled: {holes} holes on {round} by {height} mm"),
        gettext_noop("Nest of {drums}, outermost first: {names}"),
    )
]
_PLATE = re.compile(r"(\d+) veneers?, (around|axial)(?:, L ([\d.]+))?")
_PART_AT = re.compile(r"(.*  )(\d+\.\d)")
_DRUM = re.compile(r"\d+  [\d.]+ × .*")  # of a nest; a nominal size is a name
_ON_SHEET = re.compile(r"(\d+: )?(?:keep|([A-Z\d]{6,}) plate (\d+))(, [\d.]+ × [\d.]+)?")  # a blank or an offcut
_OVER_ALL = re.compile(r"(.*, )(Ø [\d.]+ × [\d.]+)")


def in_words(svg: str) -> str:
    """The drawing with its words and decimal signs in the language that is spoken."""
    if present_language() == "en":
        return svg
    return _TEXT.sub(lambda found: found[1] + _said(found[3]), svg)


def _said(words: str) -> str:
    for pattern, said in _SAID:
        if found := pattern.fullmatch(words):
            values = {name: value if name in _NAMES else localized(value) for name, value in found.groupdict().items()}
            return _(said).format(**values)
    if _DRUM.fullmatch(words):
        return words
    if _FIGURES.fullmatch(words):
        return localized(words)
    if found := _PLATE.fullmatch(words):
        length = f", L {localized(found[3])}" if found[3] else ""
        said = ngettext("{veneers} veneer, {grain}", "{veneers} veneers, {grain}", int(found[1]))
        return said.format(veneers=found[1], grain=_(found[2])) + length
    if found := _PART_AT.fullmatch(words) or _OVER_ALL.fullmatch(words):
        return found[1] + localized(found[2])
    pieces = [_ON_SHEET.fullmatch(piece) for piece in words.split("; ")]
    if all(pieces):
        return "; ".join(_on_sheet(piece) for piece in pieces if piece)
    return _diameters(words) if words.startswith("Ø ") else words


def _on_sheet(found: re.Match[str]) -> str:
    """“OW26000016 plate 3, 1100.5 × 180”, “2: keep, 400 × 90”."""
    what = _("{serial} plate {place}").format(serial=found[2], place=found[3]) if found[2] else _("keep")
    return f"{found[1] or ''}{what}{localized(found[4] or '')}"


def _diameters(words: str) -> str:
    """“Ø 5: holes 1–16; Ø 6.5: hole 17”."""

    def said(found: re.Match[str]) -> str:
        return f"Ø {localized(found[1])}: " + (_("holes") if found[2] else _("hole"))

    return re.sub(r"Ø ([\d.]+): hole(s?)", said, words)
