from __future__ import annotations

from django.apps import AppConfig


class ShopfloorConfig(AppConfig):
    name = "shopfloor"

    def ready(self) -> None:
        _let_forms_name_their_model()
        # Each registers what it has: checks and what is to happen with signals.
        from shopfloor import demo_check, paper_check, security_log, session_limits, slow_queries  # noqa: F401
        from shopfloor.backups import moved_check  # noqa: F401


def _let_forms_name_their_model() -> None:
    """``ModelForm[Person]`` is for type checkers: here it is ``ModelForm``. Managers and querysets can do it themselves."""
    from django.forms import BaseInlineFormSet, BaseModelForm

    for form in (BaseModelForm, BaseInlineFormSet):
        form.__class_getitem__ = classmethod(lambda cls, model: cls)  # type: ignore[union-attr]
