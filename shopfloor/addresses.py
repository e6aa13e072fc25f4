"""From which address a request comes, also behind the shop's own proxies."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest


def client_address(request: HttpRequest) -> str:
    """The address that the outermost of our own proxies saw; what a browser claims further left counts for nothing."""
    direct = str(request.META.get("REMOTE_ADDR", ""))
    if not settings.PROXIES:
        return direct
    passed = [part.strip() for part in request.META.get("HTTP_X_FORWARDED_FOR", "").split(",") if part.strip()]
    # Fewer than there are proxies: somebody came round one of them.
    return passed[-settings.PROXIES] if len(passed) >= settings.PROXIES else direct
