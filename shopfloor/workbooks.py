"""A list as a workbook (xlsx), in memory or row by row. Heavy to load: imported where a workbook is written."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from openpyxl import Workbook
from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE, Cell
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter

WIDEST = 60  # letters of a column
# A spreadsheet takes a cell that begins so for a formula (tab and return: some drop them and look at what follows).
_BEGINS_A_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def book(head: Sequence[str], rows: Iterable[Sequence[str]], widths: Sequence[int] = ()) -> Workbook:
    made = Workbook(write_only=True)
    sheet = made.create_sheet()
    sheet.freeze_panes = "A2"
    for place, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(place)].width = width
    sheet.append([_written(sheet, words, Font(bold=True)) for words in head])
    for row in rows:
        sheet.append([_written(sheet, words) for words in row])
    return made


def _written(sheet: Any, words: str, font: Font | None = None) -> Cell:
    cell = WriteOnlyCell(sheet, ILLEGAL_CHARACTERS_RE.sub("", words))
    cell.data_type = "s"  # else a word that begins with “=” would be a formula
    cell.quotePrefix = words.startswith(_BEGINS_A_FORMULA)  # and stays text when somebody edits it
    if font is not None:
        cell.font = font
    return cell
