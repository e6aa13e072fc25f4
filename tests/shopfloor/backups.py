"""A shop whose folder is its own, and backups of it, for tests of taking them and of coming back."""

from __future__ import annotations

import io
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from quality.actions import sign_off
from quality.photos import keep_photo
from quality.problems import report_problem
from shopfloor.backups.taking import Taken, take_backup
from tests.small_shop import SmallShop, small_shop

TODAY = datetime(2026, 11, 4, 2, 0, tzinfo=UTC)


@pytest.fixture
def shop(transactional_db: None, tmp_path: Path, settings: Any) -> SmallShop:
    """A shop whose folder is its own, with a photo on record and a secret key."""
    settings.SHOP_DATA = tmp_path / "data"
    settings.MEDIA_ROOT = tmp_path / "data" / "files"
    settings.SHOP_DATA.mkdir()
    (settings.SHOP_DATA / "secret_key").write_text("a secret of the shop")
    (settings.SHOP_DATA / "secret_key").chmod(0o600)
    made = small_shop()
    shells = made.released(quantity=3)
    for shell in shells[:2]:
        sign_off(
            serial=shell.serial,
            position=1,
            person=made.worker,
            answers={},
            stamp=made.stamp(made.worker, key=shell.serial),
        )
    report_problem(
        serial=shells[2].serial,
        position=1,
        person=made.worker,
        text="split",
        photo=keep_photo(*picture(), made.clock),
        stamp=made.stamp(made.worker),
    )
    return made


def picture() -> tuple[io.BytesIO, int]:
    out = io.BytesIO()
    Image.new("RGB", (64, 48), (120, 80, 40)).save(out, "JPEG")
    size = out.tell()
    out.seek(0)
    return out, size


def take(folder: Path, day: int = 0, keep: int = 14) -> Taken:
    return take_backup(folder, keep=keep, now=TODAY + timedelta(days=day))


def damage(path: Path) -> None:
    """One bit, as a failing disk would."""
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)


def new_folder(folder: Path) -> Path:
    folder.mkdir(parents=True)
    return folder
