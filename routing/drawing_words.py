"""The words on a drawing in the language that is spoken. The drawings themselves are pure and know English."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime
from html import escape, unescape

from django.utils.formats import date_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop, ngettext

from routing.drawings.gantt import ToldRow
from routing.languages import localized, present_language

_TEXT = re.compile(r"(<(text|title)\b[^>]*>)([^<]*)(?=</\2>)")
_FIGURES = re.compile(r"[-+\d.,:°×…/ –]*(?:mm|R|Ø)?[-+\d.,:°×…/ –]*")
_NAMES = {"name", "names"}  # of plates and parts: the shop's own
MOST_NAMED = 5  # of the late ones of a row


def _place(name: str) -> str:
    what = ".+" if name in _NAMES else "[A-Z][0-9]+" if name == "sheet" else "-?[0-9.]+"
    return rf"(?P<{name}>{what})"


# What a drawing says, as a pattern, and how it is said. A figure stands in each place, or names, or which sheet of a
# template it is: “B2”.
_SAID = [
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
        # xgettext:no-python-format
        gettext_noop("sheet {number}, {share} % used"),
        gettext_noop("Lay-up of {plates} plates, {veneers} veneers, wall {value} mm, outside on top"),
        gettext_noop(
            "Bearing edge {name}, wall {value} mm, apex {apex} mm from the outside, angles from the head plane"
        ),
        gettext_noop("Hole map, outside unrolled: {holes} holes on {round} by {height} mm"),
        gettext_noop("Nest of {drums}, outermost first: {names}"),
        # a template to drill by
        gettext_noop("batter edge"),
        gettext_noop("resonant edge"),
        gettext_noop("0: on the outer seam"),
        gettext_noop("this end meets 0"),
        gettext_noop("tab, goes under"),
        gettext_noop("plate seam {angle}°"),
        gettext_noop("cut here"),
        gettext_noop("{sheet} from here"),
        gettext_noop("Sheet {sheet}"),
        gettext_noop("{name}: {round} round, {height} high"),
        gettext_noop("Drilling template {name}, sheet {sheet} of {sheets}, true scale"),
        gettext_noop("100 mm: check both rulers; print at 100 %"),
        gettext_noop(
            "Batter edge up, 0 on the outer seam. Round the shell the ends may stay 0.3 mm apart: the paper's thickness. "
            "Check one hole with a tape before drilling."
        ),
        gettext_noop(
            "Caution: clamp the shell, back up the side where the drill comes out, wear eye protection; local rules come "
            "first."
        ),
        # a control chart
        gettext_noop("centre {value}"),
        gettext_noop("upper {value}"),
        gettext_noop("lower {value}"),
        gettext_noop("allowed from {value}"),
        gettext_noop("allowed to {value}"),
    )
]
# Pictures of work and of counts, whose names are the shop's own whatever they look like.
_OF_A_PICTURE = {
    "count": gettext_noop("how many"),
    **{
        said: said
        for said in (
            gettext_noop("running share"),
            gettext_noop("work"),
            gettext_noop("work begun"),
            gettext_noop("glue cures or lacquer dries"),
            gettext_noop("down"),
            gettext_noop("late"),
            gettext_noop("now"),
            gettext_noop("closed, drawn at an eighth of its length"),
        )
    },
}
_MORE = re.compile(r"(\d+) more")
_DAY = re.compile(r"\d\d?\.\d\d?\.\d{4}")  # its points are no decimal signs
_PLATE = re.compile(r"(\d+) veneers?, (around|axial)(?:, L ([\d.]+))?")
_PART_AT = re.compile(r"(.*  )(\d+\.\d)")
_DRUM = re.compile(r"\d+  [\d.]+ × .*")  # of a nest; a nominal size is a name
_ON_SHEET = re.compile(r"(\d+: )?(?:keep|([A-Z\d]{6,}) plate (\d+))(, [\d.]+ × [\d.]+)?")  # a blank or an offcut
_OVER_ALL = re.compile(r"(.*, )(Ø [\d.]+ × [\d.]+)")


def in_words(svg: str) -> str:
    """The drawing with its words and decimal signs in the language that is spoken."""
    return _translated(svg, _said)


def picture_in_words(svg: str) -> str:
    """The picture of a plan or of counts in the language that is spoken."""
    return _translated(svg, _of_a_picture)


def _translated(svg: str, said: Callable[[str], str]) -> str:
    if present_language() == "en":
        return svg
    return _TEXT.sub(lambda found: found[1] + escape(said(unescape(found[3]))), svg)


def row_in_words(row: ToldRow) -> str:
    """A row of a plan over time, for those who can't see it."""
    if row.first is None or row.last is None:
        return _("{name}: nothing.").format(name=row.name)
    first, last = (date_format(at, "SHORT_DATETIME_FORMAT") for at in (row.first, row.last))
    if not row.late:
        said = _("{name}: {count} from {first} to {last}.")
        return said.format(name=row.name, count=row.bars, first=first, last=last)
    late = ", ".join(label or _("one without a name") for label in row.late[:MOST_NAMED])
    if len(row.late) > MOST_NAMED:
        late = _("{some} and {count} more").format(some=late, count=len(row.late) - MOST_NAMED)
    said = _("{name}: {count} from {first} to {last}, late: {late}.")
    return said.format(name=row.name, count=row.bars, first=first, last=last, late=late)


def day_names(day: datetime) -> tuple[str, ...]:
    """What the head of a plan over time calls a day, from the longest name to the shortest."""
    return tuple(date_format(day, form) for form in (_("l j F"), _("D j M"), _("D j"), "j"))


def _of_a_picture(words: str) -> str:
    if found := _MORE.fullmatch(words):
        return _("{count} more").format(count=found[1])
    return _(_OF_A_PICTURE[words]) if words in _OF_A_PICTURE else words


def _said(words: str) -> str:
    for pattern, said in _SAID:
        if found := pattern.fullmatch(words):
            values = {name: value if name in _NAMES else localized(value) for name, value in found.groupdict().items()}
            return _(said).format(**values)
    if _DRUM.fullmatch(words) or _DAY.fullmatch(words):
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
