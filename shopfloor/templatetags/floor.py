"""What the floor's forms need to show again what was typed."""

from __future__ import annotations

from collections.abc import Mapping

from django import template

register = template.Library()


@register.filter
def answer(typed: Mapping[str, str], key: str) -> str:
    """What was entered for a check, after a refusal."""
    return typed.get(f"check-{key}", "")
