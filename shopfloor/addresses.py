"""From which address a request comes, also behind the shop's own proxies."""

from __future__ import annotations

from ipaddress import ip_address

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


def is_on_this_machine(request: HttpRequest) -> bool:
    """Whether whoever asks sits at the machine where the shop runs, as far as that can be told.

    Behind a proxy that nobody told the shop of, every request seems to come from here: its headers give it away.
    """
    if not settings.PROXIES and {"HTTP_X_FORWARDED_FOR", "HTTP_FORWARDED"} & request.META.keys():
        return False
    try:
        found = ip_address(client_address(request))
    except ValueError:
        return False
    return (getattr(found, "ipv4_mapped", None) or found).is_loopback
