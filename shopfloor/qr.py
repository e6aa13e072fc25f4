"""QR codes (ISO/IEC 18004) for paper, and the addresses that stand in them."""

from __future__ import annotations

import base64
import hmac
import io
from urllib.parse import quote

import segno
from django.conf import settings
from django.http import HttpRequest
from django.urls import get_script_prefix, reverse
from django.utils.crypto import salted_hmac

TOKEN_LENGTH = 12


def base_url(request: HttpRequest | None) -> str:
    """The address of the shop for codes on paper: the setting, else that of the request, else none."""
    if settings.SHOP_URL:
        return str(settings.SHOP_URL)
    return request.build_absolute_uri("/").rstrip("/") if request is not None else ""


def traveler_address(serial: str, revision: int, base: str) -> str:
    """What a traveler's code says: the shell, and of which revision the paper is.

    The address of ``scan:shell``, written out: to find it by its name loads every page of the shop, most of a second in a
    process that only makes papers. A test holds them together.
    """
    return f"{base}{get_script_prefix()}s/{quote(serial)}/?r={revision}"


def card_token(serial: str, *, secret: str | bytes | None = None) -> str:
    """Part of a card's address that nobody can work out for another serial number: 60 bits of an HMAC."""
    digest = salted_hmac("shopfloor.card", serial, secret=secret, algorithm="sha256").digest()
    return base64.b32encode(digest).decode()[:TOKEN_LENGTH].lower()


def is_card_token(serial: str, token: str) -> bool:
    """Whether a card says ``token``; cards outlive a change of the key that is kept among the fallbacks."""
    secrets = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]
    given = token.lower().encode()
    return any(hmac.compare_digest(card_token(serial, secret=secret).encode(), given) for secret in secrets)


def card_address(serial: str, base: str) -> str:
    return f"{base}{reverse('card:public', args=[serial, card_token(serial)])}"


def qr_svg(words: str) -> str:
    """``words`` as a code that survives a fingerprint (error correction Q), drawn as one path."""
    drawn = io.BytesIO()
    segno.make(words, error="q", micro=False).save(
        drawn, kind="svg", xmldecl=False, svgns=True, border=2, omitsize=True, svgclass="qr", lineclass=None
    )
    return drawn.getvalue().decode()
