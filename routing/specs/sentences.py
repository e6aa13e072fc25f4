"""The sentences of the core: each stands at the top of its module as a form with places, and is named here.

The core speaks English. What it made of a form can be said in another language, since the form reads its values back
out of the sentence: see ``routing/spec_words.py``. So a frozen spec keeps nothing but the English.
"""

from __future__ import annotations

_FORMS: dict[str, None] = {}


def gettext_noop(form: str) -> str:
    """Name a form. Only at the top of a module; by this name the catalogues find it."""
    _FORMS[form] = None
    return form


def forms() -> tuple[str, ...]:
    """The forms of all modules that are loaded."""
    return tuple(_FORMS)
