"""What every template may use."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from routing.models import Shop


def shop(request: HttpRequest) -> dict[str, Any]:
    return {"shop": Shop.current()}
