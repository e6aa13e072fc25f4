"""Photos of what was found."""

from __future__ import annotations

import io
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction
from PIL import Image

from quality.errors import QualityError
from quality.models import Photo
from quality.photos import KeptPhoto, keep_photo, photo_bytes
from quality.problems import report_problem
from routing.models import ShellRecord
from tests.small_shop import SmallShop

AT = datetime(2026, 11, 2, 8, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _own_folder(settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path


def picture(width: int = 2400, height: int = 1200, *, form: str = "JPEG", notes: bool = False) -> io.BytesIO:
    out = io.BytesIO()
    exif = Image.Exif()
    if notes:
        exif[0x010F] = "some camera"
        exif[0x0112] = 6  # lies on its side
    Image.new("RGB", (width, height), "sienna").save(out, form, exif=exif)
    out.seek(0)
    return out


def keep(file: io.BytesIO) -> KeptPhoto:
    return keep_photo(file, len(file.getvalue()), AT)


def reopened(kept: KeptPhoto) -> Image.Image:
    with default_storage.open(kept.file) as file:
        return Image.open(io.BytesIO(file.read()))


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_a_photo_is_made_small(form: str) -> None:
    kept = keep(picture(form=form))
    assert reopened(kept).size == (1600, 800) and reopened(kept).format == "JPEG"
    assert kept.file == f"photos/2026/11/{kept.sha256}.jpg"


def test_it_stands_upright_and_carries_nothing_of_the_camera() -> None:
    image = reopened(keep(picture(notes=True)))
    assert image.size == (800, 1600)
    assert not dict(image.getexif())


def test_the_same_photo_twice_is_one_file(tmp_path: Path) -> None:
    assert keep(picture()) == keep(picture())
    assert len(list(tmp_path.rglob("*.jpg"))) == 1


@pytest.mark.parametrize(
    ("file", "words"),
    [
        (io.BytesIO(b"no picture"), "no photo that can be read"),
        (io.BytesIO(b""), "no photo that can be read"),
        (io.BytesIO(picture().getvalue()[:500]), "no photo that can be read"),
        (io.BytesIO(b"<svg xmlns='http://www.w3.org/2000/svg'/>"), "no photo that can be read"),
    ],
    ids=["words", "empty", "cut off", "drawing"],
)
def test_what_is_no_photo_is_refused(file: io.BytesIO, words: str, tmp_path: Path) -> None:
    with pytest.raises(QualityError, match=words):
        keep(file)
    assert list(tmp_path.rglob("*.jpg")) == []


def test_a_file_that_is_too_large_is_refused() -> None:
    with pytest.raises(QualityError, match="15 MB"):
        keep_photo(picture(), 16 * 1024 * 1024, AT)
    with pytest.raises(QualityError, match="pixels"):
        keep(picture(20_000, 4_000, form="PNG"))


def test_the_record_holds_the_hash_of_the_photo(shop: SmallShop) -> None:
    (shell,) = shop.released()
    kept = keep(picture())
    problem = report_problem(
        serial=shell.serial, position=1, person=shop.worker, text="Split", photo=kept, stamp=shop.stamp(shop.worker)
    )
    photo = problem.photos.get()
    assert (photo.sha256, photo.taken_by) == (kept.sha256, shop.worker)
    assert ShellRecord.objects.get(shell=shell, kind="held").body["photos"] == [kept.sha256]
    assert photo_bytes(photo)[:2] == b"\xff\xd8"


def test_a_photo_whose_file_was_changed_or_lost_is_not_shown(shop: SmallShop) -> None:
    (shell,) = shop.released()
    kept = keep(picture())
    problem = report_problem(
        serial=shell.serial, position=1, person=shop.worker, text="Split", photo=kept, stamp=shop.stamp(shop.worker)
    )
    path = Path(default_storage.path(kept.file))
    path.write_bytes(picture(10, 10).getvalue())
    with pytest.raises(QualityError, match="changed"):
        photo_bytes(problem.photos.get())
    path.unlink()
    with pytest.raises(QualityError, match="missing"):
        photo_bytes(problem.photos.get())


def test_the_row_of_a_photo_stays(shop: SmallShop) -> None:
    (shell,) = shop.released()
    report_problem(
        serial=shell.serial,
        position=1,
        person=shop.worker,
        text="Split",
        photo=keep(picture()),
        stamp=shop.stamp(shop.worker),
    )
    with pytest.raises(IntegrityError, match="kept as written"), transaction.atomic():
        Photo.objects.update(sha256="0" * 64)
    with pytest.raises(IntegrityError, match="kept as written"), transaction.atomic():
        Photo.objects.all()._raw_delete("default")


def test_half_a_photo_left_by_a_killed_server_is_written_anew(shop: SmallShop) -> None:
    kept = keep(picture())
    path = Path(default_storage.path(kept.file))
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    assert keep(picture()) == kept
    assert path.read_bytes() == whole


def test_a_photo_has_its_name_only_when_it_is_whole(shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("quality.photos.os.fsync", full)
    with pytest.raises(OSError, match="No space left"):
        keep(picture())
    assert [path for path in Path(default_storage.path("")).rglob("*") if path.is_file()] == []
