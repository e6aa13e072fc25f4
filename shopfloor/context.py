"""What every template may use."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from routing.models import Shop
from shopfloor.request_id import request_id


def shop(request: HttpRequest) -> dict[str, Any]:
    return {"shop": Shop.current(), "request_id": request_id()}
