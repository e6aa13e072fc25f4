"""Backups: taken while the shop works, and so many of them kept."""

from __future__ import annotations

import shutil
import threading
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from quality.actions import sign_off
from quality.models import Photo
from routing.models import ShellRecord
from shopfloor.backups import taking
from shopfloor.backups.databases import FILES
from shopfloor.backups.manifest import NAME, BackupRefused, Manifest, first_damage, read_manifest
from shopfloor.backups.taking import backups_in
from tests.shopfloor import backups
from tests.shopfloor.backups import damage, new_folder, take
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db(transaction=True)
shop = backups.shop  # a fixture: its folder is its own


class TestTaking:
    def test_everything_is_in_it(self, shop: SmallShop, tmp_path: Path) -> None:
        taken = take(tmp_path / "kept")
        photo = Photo.objects.get()
        manifest = read_manifest(taken.folder)
        assert taken.folder.name == "shop-20261104T020000Z"
        assert set(manifest.files) == {FILES[connection.vendor], f"data/files/{photo.file}", "data/secret_key"}
        assert manifest.files[f"data/files/{photo.file}"].sha256 == photo.sha256
        assert manifest.tables["routing_shellrecord"] == ShellRecord.objects.count() == 6
        assert manifest.tables["routing_shell"] == 3
        assert manifest.engine == connection.vendor
        assert "0001_initial" in manifest.migrations["routing"]
        assert first_damage(taken.folder, manifest, thoroughly=True) == ""
        assert taken.lost_photos == ()

    def test_nobody_else_reads_it(self, shop: SmallShop, tmp_path: Path) -> None:
        folder = take(tmp_path / "kept").folder
        assert folder.stat().st_mode & 0o077 == 0
        assert (folder / "data" / "secret_key").stat().st_mode & 0o077 == 0

    def test_what_makes_itself_again_is_left_out(self, shop: SmallShop, tmp_path: Path, settings: Any) -> None:
        for name in (
            "static/css/a.css",
            "papers/a.pdf",
            "backups/old",
            "write.lock",
            "shop.sqlite3-wal",
            "files/.half",
            "files/.thumbnails/a.jpg",
            "notes/a.txt",
        ):
            path = settings.SHOP_DATA / name
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text("x")
        names = set(read_manifest(take(tmp_path / "kept").folder).files)
        beside = {name for name in names if not name.startswith("data/files/photos") and name.startswith("data/")}
        assert beside == {"data/secret_key", "data/notes/a.txt"}

    def test_taps_go_on_meanwhile_and_the_moment_is_one(self, shop: SmallShop, tmp_path: Path) -> None:
        """Whatever is signed while a backup runs is in it wholly or not at all."""
        shells = shop.released("K-2", quantity=12)
        started, done = threading.Event(), []

        def sign() -> None:
            for shell in shells:
                sign_off(serial=shell.serial, position=1, person=shop.worker, answers={}, stamp=shop.stamp(shop.worker))
                done.append(shell)
                started.set()
            connection.close()

        worker = threading.Thread(target=sign)
        worker.start()
        started.wait(30)
        tables = take(tmp_path / "kept").manifest.tables
        worker.join()
        assert len(done) == 12
        assert tables["quality_signoff"] + 3 + 12 + 1 == tables["routing_shellrecord"]

    def test_a_photo_that_did_not_change_takes_no_room_again(self, shop: SmallShop, tmp_path: Path) -> None:
        name = f"data/files/{Photo.objects.get().file}"
        first, second = take(tmp_path / "kept").folder, take(tmp_path / "kept", 1).folder
        assert (first / name).samefile(second / name)

    def test_a_copy_that_went_bad_is_not_shared(self, shop: SmallShop, tmp_path: Path) -> None:
        name = f"data/files/{Photo.objects.get().file}"
        first = take(tmp_path / "kept").folder
        damage(first / name)
        second = take(tmp_path / "kept", 1)
        assert not (first / name).samefile(second.folder / name)
        assert first_damage(second.folder, second.manifest, thoroughly=True) == ""

    def test_a_photo_missing_in_the_shop_is_said(
        self, shop: SmallShop, tmp_path: Path, settings: Any, capsys: pytest.CaptureFixture[str]
    ) -> None:
        photo = Photo.objects.get()
        (settings.MEDIA_ROOT / photo.file).unlink()
        call_command("backup", str(tmp_path / "kept"))
        assert photo.file in capsys.readouterr().err

    def test_two_at_once(self, shop: SmallShop, tmp_path: Path) -> None:
        with (
            taking._alone(new_folder(tmp_path / "kept")),
            pytest.raises(BackupRefused, match="Another backup .* is running"),
        ):
            take(tmp_path / "kept")

    def test_two_in_one_second(self, shop: SmallShop, tmp_path: Path) -> None:
        names = [take(tmp_path / "kept").folder.name for _ in range(2)]
        assert names == ["shop-20261104T020000Z", "shop-20261104T020000Z-2"]

    def test_no_room(self, shop: SmallShop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        """Said before anything is written."""
        take(tmp_path / "kept")
        monkeypatch.setattr(taking, "SPARE_BYTES", 1 << 60)
        with pytest.raises(BackupRefused, match="Nothing was written. Make room"):
            take(tmp_path / "kept", 1)
        assert len(backups_in(tmp_path / "kept")) == 1

    def test_a_disk_that_fills_up_in_the_middle(
        self, shop: SmallShop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        take(tmp_path / "kept")

        def full(*_: object) -> None:
            raise OSError(28, "No space left on device")

        monkeypatch.setattr(taking, "write_manifest", full)
        with pytest.raises(CommandError, match=r"No space left on device.*Nothing was dropped"):
            call_command("backup", str(tmp_path / "kept"), "--keep", "1")
        assert [each.name for each in backups_in(tmp_path / "kept")] == ["shop-20261104T020000Z"]
        assert not list((tmp_path / "kept").glob(".unfinished*"))

    def test_what_was_broken_off_is_cleared_away(self, shop: SmallShop, tmp_path: Path) -> None:
        left = new_folder(tmp_path / "kept" / ".unfinished-shop-20261103T020000Z")
        (left / "database.dump").write_text("half")
        take(tmp_path / "kept")
        assert not left.exists()

    @pytest.mark.parametrize("inside", ["", "files", "files/kept", "kept", "papers", "backups/../kept"])
    def test_into_what_it_is_of(self, shop: SmallShop, settings: Any, inside: str) -> None:
        """It would copy what it has just written, and the next one that again."""
        before = set(settings.SHOP_DATA.rglob("*"))
        with pytest.raises(CommandError, match=r"lies inside of .*Nothing was written\. Name a folder elsewhere"):
            call_command("backup", f"{settings.SHOP_DATA}/{inside}")
        assert set(settings.SHOP_DATA.rglob("*")) == before

    def test_into_the_photos_on_a_larger_disk(self, shop: SmallShop, tmp_path: Path, settings: Any) -> None:
        settings.MEDIA_ROOT.rename(tmp_path / "larger")
        settings.MEDIA_ROOT.symlink_to(tmp_path / "larger")
        with pytest.raises(BackupRefused, match="lies inside of"):
            take(tmp_path / "larger" / "kept")
        assert not (tmp_path / "larger" / "kept").exists()

    def test_the_folder_for_backups_inside_of_it(self, shop: SmallShop, settings: Any) -> None:
        for day in range(2):
            taken = take(settings.SHOP_DATA / "backups", day)
        assert not [name for name in taken.manifest.files if "backups" in name]
        assert taken.kept == 2

    @pytest.mark.parametrize("keep", ["0", "-1", "all", "²"])
    def test_keeping_none_is_refused(self, shop: SmallShop, tmp_path: Path, keep: str) -> None:
        with pytest.raises(CommandError, match="keep at least 1"):
            call_command("backup", str(tmp_path / "kept"), f"--keep={keep}")
        assert not (tmp_path / "kept").exists()


class TestRetention:
    def test_the_oldest_goes(self, shop: SmallShop, tmp_path: Path) -> None:
        for day in range(5):
            taken = take(tmp_path / "kept", day, keep=3)
        assert [each.name[5:13] for each in backups_in(tmp_path / "kept")] == ["20261106", "20261107", "20261108"]
        assert taken.dropped == ("shop-20261105T020000Z",)
        assert taken.kept == 3

    def test_fourteen_are_fourteen(self, shop: SmallShop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        """On every morning of sixteen; what is written each time is in other tests."""
        one = take(tmp_path / "one").manifest

        def write(folder: Path, *_: object) -> tuple[Manifest, list[str]]:
            shutil.copytree(tmp_path / "one" / "shop-20261104T020000Z", folder)
            return one, []

        monkeypatch.setattr(taking, "_write", write)
        there = []
        for day in range(16):
            taken = take(tmp_path / "kept", day, keep=14)
            there.append(len(backups_in(tmp_path / "kept")))
            assert taken.kept == there[-1]
        assert there == [*range(1, 15), 14, 14]
        assert taken.dropped == ("shop-20261105T020000Z",)

    def test_only_one(self, shop: SmallShop, tmp_path: Path) -> None:
        for day in range(3):
            take(tmp_path / "kept", day, keep=1)
        assert [each.name[5:13] for each in backups_in(tmp_path / "kept")] == ["20261106"]

    def test_a_damaged_one_does_not_count_and_is_said(self, shop: SmallShop, tmp_path: Path) -> None:
        good, bad = take(tmp_path / "kept", 0), take(tmp_path / "kept", 1)
        (bad.folder / bad.manifest.database).unlink()
        taken = take(tmp_path / "kept", 2, keep=2)
        assert good.folder.exists()
        assert taken.damaged == {bad.folder.name: f"{bad.manifest.database} is missing"}

    def test_flipped_bytes_in_the_database_of_an_older_one(
        self, shop: SmallShop, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        """It has the size it should have. It does not count, so an older good one stays, and it is named."""
        good, bad = take(tmp_path / "kept", 0), take(tmp_path / "kept", 1)
        damage(bad.folder / bad.manifest.database)
        taken = take(tmp_path / "kept", 2, keep=2)
        assert good.folder.exists()
        assert bad.folder.exists()
        assert taken.kept == 2
        what = f"{bad.manifest.database} is not what was written"
        assert taken.damaged == {bad.folder.name: what}
        call_command("backup", str(tmp_path / "kept"))
        assert f"{bad.folder.name} is damaged and would be refused: {what}." in capsys.readouterr().err

    def test_a_damaged_one_that_is_older_than_all_that_are_kept_goes_and_is_said(
        self, shop: SmallShop, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        bad = take(tmp_path / "kept", -3)
        damage(bad.folder / bad.manifest.database)
        take(tmp_path / "kept", -2)
        call_command("backup", str(tmp_path / "kept"), "--keep", "1")
        said = capsys.readouterr()
        assert "Dropped shop-20261101T020000Z. Dropped shop-20261102T020000Z." in said.out
        assert "shop-20261101T020000Z was damaged: " in said.err
        assert len(backups_in(tmp_path / "kept")) == 1

    def test_one_that_can_not_be_read_is_never_deleted_and_is_said(
        self, shop: SmallShop, tmp_path: Path, capsys: pytest.CaptureFixture[str]
    ) -> None:
        """Nobody knows what it is: it may be the only one of a newer program."""
        bad = take(tmp_path / "kept", -3)
        damage(bad.folder / NAME)
        take(tmp_path / "kept", -2)
        for _ in range(2):
            call_command("backup", str(tmp_path / "kept"), "--keep", "1")
        assert (bad.folder / bad.manifest.database).exists()
        assert "shop-20261101T020000Z is damaged and would be refused: The manifest.json" in capsys.readouterr().err

    def test_what_can_not_be_deleted_is_said(
        self, shop: SmallShop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        old = take(tmp_path / "kept")
        rename = Path.rename

        def refused(path: Path, target: Path) -> Path:
            if path == old.folder:
                raise PermissionError(1, "Operation not permitted")
            return rename(path, target)

        monkeypatch.setattr(Path, "rename", refused)
        taken = take(tmp_path / "kept", 1, keep=1)
        assert taken.dropped == ()
        assert taken.undroppable == {old.folder.name: "Operation not permitted"}
        assert taken.kept == 2

    def test_one_from_a_clock_that_was_fast_does_not_drop_the_new_one(self, shop: SmallShop, tmp_path: Path) -> None:
        take(tmp_path / "kept", 400)
        taken = take(tmp_path / "kept", 1, keep=1)
        assert taken.folder.exists()

    def test_a_failed_one_drops_nothing(self, shop: SmallShop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        for day in range(2):
            take(tmp_path / "kept", day)
        monkeypatch.setattr(taking, "first_damage", lambda *_, thoroughly: "it is broken" if thoroughly else "")
        with pytest.raises(BackupRefused, match="can't be read back: it is broken"):
            take(tmp_path / "kept", 2, keep=1)
        assert len(backups_in(tmp_path / "kept")) == 2

    def test_nothing_else_in_the_folder_is_touched(self, shop: SmallShop, tmp_path: Path) -> None:
        names = ("photos of the shop", "shop-floor", "shop-2025", "shop-20251104T020000Z old", ".unfinished-mine")
        mine = [new_folder(tmp_path / "kept" / name) for name in names]
        for day in range(3):
            taken = take(tmp_path / "kept", day, keep=1)
        assert [each.name for each in mine if not each.exists()] == []
        assert taken.damaged == {}
