"""A system check: what printing needs on this machine, before somebody stands at the printer."""

from __future__ import annotations

import ctypes
from collections.abc import Sequence
from typing import Any

from django.core import checks
from django.utils.translation import gettext as _

from shopfloor.paper import WHAT_TO_INSTALL, PaperError

# Each under the names it has on Linux and on a Mac.
LIBRARIES = {
    "Pango": ("libpango-1.0.so.0", "libpango-1.0.dylib"),
    "PangoFT2": ("libpangoft2-1.0.so.0", "libpangoft2-1.0.dylib"),
    "Fontconfig": ("libfontconfig.so.1", "libfontconfig.dylib"),
}
PRINTING = "printing"
FACES = ("DejaVu Sans Condensed", "DejaVu Serif Condensed", "DejaVu Sans Mono")


def require_libraries() -> None:
    """Raises PaperError, saying what to install, before anything is put on record. Loads no more than a look needs."""
    if missing := [name for name, names in LIBRARIES.items() if _library(names) is None]:
        said = _("{libraries}, which printing needs, is missing. Install it with: {command}")
        raise PaperError(said.format(libraries=_(" and ").join(missing), command=WHAT_TO_INSTALL))


@checks.register(PRINTING)
def printing_works(app_configs: Sequence[Any] | None, **kwargs: Any) -> list[checks.CheckMessage]:
    """Warn about a library or a typeface of the paper that is missing; the rest of the shop works without."""
    loaded = {name: _library(names) for name, names in LIBRARIES.items()}
    missing = [name for name, library in loaded.items() if library is None]
    hint = f"Install what is missing with: {WHAT_TO_INSTALL}"
    if missing:
        return [
            checks.Warning(
                f"Travelers and cards can't be printed: {' and '.join(missing)} missing on this machine.",
                hint=hint,
                id="shopfloor.W001",
            )
        ]
    strange = [face for face in FACES if not _has_face(loaded["Fontconfig"], face)]
    if strange:
        return [
            checks.Warning(
                f"Travelers and cards will look wrong and may need more pages: no {' and no '.join(strange)} here.",
                hint=hint,
                id="shopfloor.W002",
            )
        ]
    return []


def _library(names: Sequence[str]) -> ctypes.CDLL | None:
    for name in names:
        try:
            return ctypes.CDLL(name)
        except OSError:
            continue
    return None


def _has_face(fontconfig: Any, face: str) -> bool:
    """Whether fontconfig gives the very face that is asked for, instead of one that resembles it."""
    for function in ("FcNameParse", "FcFontMatch"):
        getattr(fontconfig, function).restype = ctypes.c_void_p
    wanted = ctypes.c_void_p(fontconfig.FcNameParse(face.encode()))
    fontconfig.FcConfigSubstitute(None, wanted, 0)
    fontconfig.FcDefaultSubstitute(wanted)
    result = ctypes.c_int()
    found = ctypes.c_void_p(fontconfig.FcFontMatch(None, wanted, ctypes.byref(result)))
    names: list[str] = []
    name = ctypes.c_char_p()
    # A condensed face has several family names; the one that was asked for may be the second.
    while found and fontconfig.FcPatternGetString(found, b"family", len(names), ctypes.byref(name)) == 0:
        names.append((name.value or b"").decode(errors="replace"))
    for pattern in (wanted, found):
        if pattern:
            fontconfig.FcPatternDestroy(pattern)
    return face in names
