"""A photo from the record, for whoever may see it."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.utils.cache import patch_cache_control

from quality.errors import QualityError
from quality.models import Photo
from quality.photos import photo_bytes

A_DAY_S = 24 * 3600


def photo_response(pk: int) -> HttpResponse:
    """The photo as a picture. It never changes, so a browser may keep it for itself; 404 when its file does not hold."""
    photo = get_object_or_404(Photo, pk=pk)
    try:
        response = HttpResponse(photo_bytes(photo), content_type=photo.media_type)
    except QualityError as missing:
        raise Http404(missing.message) from missing
    patch_cache_control(response, private=True, max_age=A_DAY_S, immutable=True)
    return response
