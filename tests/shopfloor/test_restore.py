"""The way back from a backup: what is refused, and a shop that comes back after everything was lost."""

from __future__ import annotations

import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from quality.models import Photo
from routing.models import Shell, ShellRecord
from shopfloor.backups.manifest import NAME, BackupRefused, KeptFile, hash_of, read_manifest, write_manifest
from shopfloor.backups.restoring import restore_backup
from tests.places import place_for_test
from tests.shopfloor import backups
from tests.shopfloor.backups import damage, take
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db(transaction=True)
shop = backups.shop  # a fixture: its folder is its own


class TestRefusals:
    """A restore that must not happen changes nothing."""

    def test_a_place_that_is_not_empty(self, shop: SmallShop, tmp_path: Path) -> None:
        folder = take(tmp_path / "kept").folder
        with pytest.raises(
            CommandError, match=r"into an empty place only, and here the database has tables.*Nothing was"
        ):
            call_command("restore", str(folder))
        assert Shell.objects.count() == 3

    @pytest.mark.parametrize("which", ["database", "photo", "manifest"])
    def test_a_damaged_one(self, shop: SmallShop, tmp_path: Path, which: str) -> None:
        taken = take(tmp_path / "kept")
        path = {
            "database": taken.folder / taken.manifest.database,
            "photo": taken.folder / "data" / "files" / Photo.objects.get().file,
            "manifest": taken.folder / NAME,
        }[which]
        damage(path)
        with pytest.raises(
            BackupRefused, match="is damaged: .* is not what was written|was changed after|can't be read"
        ):
            restore_backup(taken.folder)

    def test_a_file_of_it_is_missing(self, shop: SmallShop, tmp_path: Path) -> None:
        taken = take(tmp_path / "kept")
        (taken.folder / "data" / "files" / Photo.objects.get().file).unlink()
        with pytest.raises(BackupRefused, match=r"is damaged: .*\.jpg is missing"):
            restore_backup(taken.folder)

    def test_one_that_was_never_finished(self, shop: SmallShop, tmp_path: Path) -> None:
        folder = take(tmp_path / "kept").folder
        (folder / NAME).unlink()
        with pytest.raises(BackupRefused, match="never finished"):
            restore_backup(folder)

    def test_the_folder_of_all(self, shop: SmallShop, tmp_path: Path) -> None:
        take(tmp_path / "kept")
        with pytest.raises(BackupRefused, match=r"name the one to come back from.*shop-20261104T020000Z"):
            restore_backup(tmp_path / "kept")

    @pytest.mark.parametrize("names", [["9999_later"], ["0001_initial", "9999_later"]])
    def test_one_of_a_newer_program(self, shop: SmallShop, tmp_path: Path, names: list[str]) -> None:
        folder = take(tmp_path / "kept").folder
        rewrite(folder, migrations={"routing": names})
        with pytest.raises(BackupRefused, match="made by a newer program"):
            restore_backup(folder)

    def test_one_of_the_other_engine(self, shop: SmallShop, tmp_path: Path) -> None:
        folder = take(tmp_path / "kept").folder
        rewrite(folder, engine="sqlite" if connection.vendor == "postgresql" else "postgresql")
        with pytest.raises(BackupRefused, match="This is a backup of .* To come back: "):
            restore_backup(folder)


def rewrite(folder: Path, **changed: Any) -> None:
    """Another manifest that is whole in itself."""
    write_manifest(folder, replace(read_manifest(folder), **changed))


def test_everything_is_lost_and_comes_back(shop: SmallShop, tmp_path: Path) -> None:
    """Backup, the machine is gone, restore on a new one; a backup there, the database is lost, and back once more."""
    first = take(tmp_path / "kept").folder
    records = list(ShellRecord.objects.order_by("pk").values_list("hash", flat=True))
    photo = Photo.objects.get().file
    before = read_manifest(first).tables
    with place_for_test(tmp_path / "new") as place:
        said = place.must("restore", first, SECRET_KEY="")
        assert "3 chains with 6 records hold." in said
        assert [hash_ for (hash_,) in place.rows("SELECT hash FROM routing_shellrecord ORDER BY id")] == records
        assert (place.data / "files" / photo).exists()
        assert (place.data / "secret_key").read_text() == "a secret of the shop"
        assert (place.data / "secret_key").stat().st_mode & 0o077 == 0
        (counted,) = place.rows("SELECT COUNT(*) FROM quality_signoff")
        assert counted[0] == before["quality_signoff"] == 2
        again = place.manage("restore", first)
        assert again.returncode == 1
        assert "into an empty place only" in again.stderr
        second = place.must("backup", tmp_path / "second").split(":")[0]
    # The context dropped the database; on SQLite its folder goes now.
    shutil.rmtree(tmp_path / "new")
    with place_for_test(tmp_path / "newer") as place:
        said = place.must("restore", second)
        assert "3 chains with 6 records hold." in said
        assert [hash_ for (hash_,) in place.rows("SELECT hash FROM routing_shellrecord ORDER BY id")] == records
        triggers = {
            "sqlite": "SELECT COUNT(*) FROM sqlite_master WHERE type = 'trigger' AND name LIKE 'routing_shellrecord_no_%'",
            "postgresql": "SELECT COUNT(*) FROM pg_trigger WHERE tgname LIKE 'routing_shellrecord_no_%' AND tgenabled = 'O'",
        }[connection.vendor]
        assert place.rows(triggers)[0][0] == {"sqlite": 2, "postgresql": 3}[connection.vendor]


def test_a_machine_where_the_shops_folder_does_not_exist(shop: SmallShop, tmp_path: Path) -> None:
    """Its key comes from SECRET_KEY, so nothing made the folder before."""
    photo = Photo.objects.get().file
    taken = take(tmp_path / "kept").folder
    with place_for_test(tmp_path / "new") as place:
        place.data.rmdir()
        assert "3 chains with 6 records hold." in place.must("restore", taken)
        assert (place.data / "files" / photo).exists()


def test_a_folder_that_can_not_be_made(shop: SmallShop, tmp_path: Path, settings: Any) -> None:
    taken = take(tmp_path / "kept").folder
    (tmp_path / "a file").write_text("x")
    settings.SHOP_DATA = tmp_path / "a file" / "data"
    with pytest.raises(BackupRefused, match=r"can't be made \(Not a directory\)\. Nothing was restored\."):
        restore_backup(taken)


def test_a_restore_that_fails_leaves_the_place_empty(shop: SmallShop, tmp_path: Path) -> None:
    """The database's file holds no database, though every hash agrees."""
    taken = take(tmp_path / "kept")
    database = taken.folder / taken.manifest.database
    database.write_bytes(b"not a database" * 100)
    told = KeptFile(hash_of(database), database.stat().st_size)
    rewrite(taken.folder, files=taken.manifest.files | {database.name: told})
    with place_for_test(tmp_path / "new") as place:
        ended = place.manage("restore", taken.folder)
        assert ended.returncode == 1
        assert "Nothing was restored" in ended.stderr
        left = {path.name for path in place.data.rglob("*") if path.is_file()}
        assert left <= {"shop.sqlite3"}  # made by asking whether there is one
        assert place.rows(
            "SELECT COUNT(*) FROM sqlite_master"
            if not place.url
            else "SELECT COUNT(*) FROM pg_tables WHERE schemaname = 'public'"
        ) == [(0,)]
