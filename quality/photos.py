"""Photos of what was found: made small, freed of what a camera writes about place and time, and kept as files."""

from __future__ import annotations

import hashlib
import io
import os
import secrets
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from django.core.files.base import File
from django.core.files.storage import default_storage
from django.utils.translation import gettext as _

from quality.errors import QualityError
from quality.models import Person, Photo, Problem, SignOff

LARGEST_BYTES = 15 * 1024 * 1024
LARGEST_PIXELS = 60_000_000
LONGEST_SIDE_PX = 1600
_FORMATS = ("JPEG", "PNG", "WEBP")


@dataclass(frozen=True, slots=True)
class KeptPhoto:
    """A photo that lies in the folder of uploaded files; a row names it once the problem is on record."""

    file: str
    sha256: str
    media_type: str = "image/jpeg"


def keep_photo(upload: File[bytes] | io.BytesIO, size: int, at: datetime) -> KeptPhoto:
    """Make a photo small and put it away under the hash of what is kept. Raises QualityError for what is no photo.

    It is upright, at most 1600 pixels long, and carries none of the camera's own notes. The same photo twice is one file.
    """
    from PIL import Image, ImageOps, UnidentifiedImageError  # heavy to load: only when a photo comes

    if size > LARGEST_BYTES:
        raise QualityError("photo_too_large", _("The photo is larger than 15 MB; take it again with fewer pixels."))
    try:
        with Image.open(io.BytesIO(upload.read()), formats=_FORMATS) as image:
            if image.width * image.height > LARGEST_PIXELS:
                raise QualityError("photo_too_large", _("The photo has too many pixels; take it again with fewer."))
            upright = ImageOps.exif_transpose(image).convert("RGB")
    except (UnidentifiedImageError, OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise QualityError(
            "no_photo", _("This file is no photo that can be read; take a JPEG, PNG or WebP picture.")
        ) from error
    upright.thumbnail((LONGEST_SIDE_PX, LONGEST_SIDE_PX))
    out = io.BytesIO()
    upright.save(out, "JPEG", quality=82)
    content = out.getvalue()
    sha256 = hashlib.sha256(content).hexdigest()
    name = f"photos/{at:%Y/%m}/{sha256}.jpg"
    _put_away(Path(default_storage.path(name)), content, sha256)
    return KeptPhoto(name, sha256)


def _put_away(place: Path, content: bytes, sha256: str) -> None:
    """The whole photo or none. Half a one, left by a server that was killed, would pass for the photo at the next try."""
    if place.exists() and hashlib.sha256(place.read_bytes()).hexdigest() == sha256:
        return
    place.parent.mkdir(parents=True, exist_ok=True)
    arriving = place.with_name(f".{place.name}.{secrets.token_hex(4)}")
    try:
        with arriving.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        arriving.replace(place)
    finally:
        arriving.unlink(missing_ok=True)


def add_photo(
    kept: KeptPhoto, person: Person, at: datetime, *, problem: Problem | None = None, sign_off: SignOff | None = None
) -> Photo:
    """Name a kept photo as one of a problem or of a signature, inside the transaction that puts either on record."""
    return Photo.objects.create(
        problem=problem,
        sign_off=sign_off,
        file=kept.file,
        sha256=kept.sha256,
        media_type=kept.media_type,
        taken_by=person,
        taken_at=at,
    )


def photo_bytes(photo: Photo) -> bytes:
    """The photo, if its file is still the one that was taken. Raises QualityError when it is missing or was changed."""
    try:
        with default_storage.open(photo.file) as file:
            content: bytes = file.read()
    except FileNotFoundError as error:
        raise QualityError("photo_missing", _("The file of this photo is missing; look for it in a backup.")) from error
    if hashlib.sha256(content).hexdigest() != photo.sha256:
        raise QualityError("photo_changed", _("The file of this photo was changed after it was taken."))
    return content
