"""What every template may use."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest

from routing.models import Shop
from shopfloor.demo.which_shop import is_the_demo
from shopfloor.request_id import request_id


def shop(request: HttpRequest) -> dict[str, Any]:
    found = Shop.current()
    return {"shop": found, "in_the_demo": is_the_demo(found), "request_id": request_id()}
