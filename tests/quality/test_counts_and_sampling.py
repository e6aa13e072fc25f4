"""Parts counted against the drum's own list, checks of every so many drums, photos that go with a signature."""

from __future__ import annotations

import io
from typing import Any

import pytest
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.db import connection
from PIL import Image

from quality import actions
from quality.actions import sign_off
from quality.checks import checks_for, count_lines, running_number
from quality.errors import ReadingRefused
from quality.models import CheckPoint, Photo, Reading
from quality.photos import keep_photo
from quality.problems import report_problem
from quality.trace import story_of
from quality.verification import verify_shell
from routing.append_only import protect, unprotect
from routing.models import Shell, ShellRecord, ShellSpec
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db

LIST = {
    "hardware": {
        "rods": 20,
        "pick_list": [
            {"bag": "rods", "name": "rod", "quantity": 20, "spare": 2},
            {"bag": "", "name": "hoop", "quantity": 2, "spare": 0},
            {"bag": "", "name": "head", "quantity": 2, "spare": 1},
            {"bag": "screws", "name": "none wanted", "quantity": 0, "spare": 0},
        ],
        "bags": [{"bag": "rods", "kinds": 1, "pieces": 20, "spares": 2}, {"bag": "", "pieces": 4, "spares": 1}],
    }
}


@pytest.mark.parametrize(
    ("key", "lines"),
    [
        ("hardware.rods", [("", 20)]),
        ("hardware.pick_list", [("rod", 20), ("hoop", 2), ("head", 2)]),
        ("hardware.pick_list[rods]", [("rod", 20)]),
        ("hardware.pick_list[]", [("hoop", 2), ("head", 2)]),
        ("hardware.pick_list:spare", [("rod", 2), ("head", 1)]),
        ("hardware.bags", [("rods", 20), ("loose parts", 4)]),
        ("hardware.bags:spare", [("rods", 2), ("loose parts", 1)]),
        ("hardware.pick_list[nothing]", []),
        ("hardware.nothing", []),
        ("nothing", []),
    ],
)
def test_what_a_place_of_the_spec_wants_counted(key: str, lines: list[tuple[str, int]]) -> None:
    assert [(line.name, line.wanted) for line in count_lines(LIST, key)] == lines


def count(shop: SmallShop, **fields: Any) -> CheckPoint:
    given = {"code": "parts", "kind": "count", "spec_key": "hardware.pick_list", **fields}
    return CheckPoint.objects.create(station=shop.stations["cut"], text="Parts counted", **given)


def sign(shop: SmallShop, shell: Shell, point: CheckPoint, answer: str, **fields: Any) -> Any:
    return sign_off(
        serial=shell.serial,
        position=1,
        person=shop.worker,
        answers={str(point.pk): answer},
        stamp=shop.stamp(shop.worker),
        **fields,
    ).sign_off


@pytest.fixture
def counted(shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> Shell:
    """A shell whose frozen spec has the list above for its hardware."""
    shell = shop.released()[0]
    spec = ShellSpec.objects.get(shell=shell)
    spec.results["hardware"] = LIST["hardware"]
    monkeypatch.setattr(actions, "current_spec", lambda _: spec)
    return shell


class TestCounts:
    def test_every_line_stands_in_the_record_with_its_name(self, shop: SmallShop, counted: Shell) -> None:
        signed = sign(shop, counted, count(shop), "20 2 2")
        (entry,) = signed.record.body["readings"]
        assert (entry["value"], entry["values"], entry["lines"]) == (24, [20, 2, 2], ["rod", "hoop", "head"])
        assert entry["shown"] == "rod 20, hoop 2, head 2"
        assert Reading.objects.get().values == [20, 2, 2]
        assert story_of(counted).events[-1].readings[0].shown == "rod 20, hoop 2, head 2"

    def test_a_wrong_count_names_its_line(self, shop: SmallShop, counted: Shell) -> None:
        with pytest.raises(ReadingRefused, match="hoop 1 instead of 2") as refused:
            sign(shop, counted, count(shop), "20 1 2")
        assert refused.value.code == "out_of_limits"
        assert not Reading.objects.exists()

    @pytest.mark.parametrize(
        ("answer", "code"),
        [("20 2", "readings_missing"), ("20 2 1.5", "no_count"), ("20 2 -2", "no_count"), ("20 2 x", "not_a_number")],
    )
    def test_what_is_no_count(self, shop: SmallShop, counted: Shell, answer: str, code: str) -> None:
        with pytest.raises(ReadingRefused) as refused:
            sign(shop, counted, count(shop), answer)
        assert refused.value.code == code

    def test_one_number_of_the_spec(self, shop: SmallShop, counted: Shell) -> None:
        point = count(shop, spec_key="hardware.rods")
        with pytest.raises(ReadingRefused, match=r"Parts counted: 19 \(allowed 20 pieces\)"):
            sign(shop, counted, point, "19")
        assert sign(shop, counted, point, "20").record.body["readings"][0]["value"] == 20

    def test_a_list_without_a_line_stops_the_signature(self, shop: SmallShop, counted: Shell) -> None:
        with pytest.raises(ReadingRefused) as refused:
            sign(shop, counted, count(shop, spec_key="hardware.pick_list[other]"), "3")
        assert refused.value.code == "no_limits"

    def test_a_wrong_count_holds_the_shell_with_its_words(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        rods = ShellSpec.objects.get(shell=shell).results["hardware"]["rods"]
        point = count(shop, spec_key="hardware.rods")
        problem = report_problem(
            serial=shell.serial,
            position=1,
            person=shop.worker,
            text="",
            answers={str(point.pk): str(rods - 1)},
            stamp=shop.stamp(shop.worker),
        )
        assert f"Parts counted: {rods - 1}" in problem.text

    def test_a_count_needs_something_to_count(self, shop: SmallShop) -> None:
        with pytest.raises(ValidationError, match="needs a place in the spec"):
            count(shop, spec_key="").clean()

    def test_a_change_of_the_check_leaves_what_was_signed(self, shop: SmallShop, counted: Shell) -> None:
        first = count(shop)
        signed = sign(shop, counted, first, "20 2 2")
        CheckPoint.objects.filter(pk=first.pk).update(is_current=False)
        count(shop, revision=2, spec_key="hardware.rods", sample_every=3)
        reading = Reading.objects.get()
        assert (reading.check_point, reading.check_point.revision) == (first, 1)
        assert signed.record.body["readings"][0]["check_revision"] == 1
        assert list(verify_shell(Shell.objects.get(pk=counted.pk))) == []


class TestSampling:
    def test_every_third_drum_by_its_running_number(self, shop: SmallShop) -> None:
        point = count(shop, code="s", kind="yes_no", spec_key="", sample_every=3)
        shells = shop.released(quantity=7)
        asked = []
        for shell in shells:
            results = ShellSpec.objects.get(shell=shell).results
            if checks_for(shop.step(shell, 1), shell, results):
                asked.append(running_number(shell.serial))
                continue
            signed = sign(shop, shell, point, "")
            assert signed.record.body["not_sampled"] == ["s"]
            assert signed.record.body["readings"] == []
        assert asked == [3, 6]

    def test_a_sampled_drum_must_be_checked(self, shop: SmallShop) -> None:
        point = count(shop, code="s", kind="yes_no", spec_key="", sample_every=2)
        second = shop.released(quantity=2)[1]
        with pytest.raises(ReadingRefused, match="Still to be checked"):
            sign(shop, second, point, "")
        assert "not_sampled" not in sign(shop, second, point, "yes").record.body

    def test_the_final_check_looks_at_every_drum(self, shop: SmallShop) -> None:
        final = shop.stations["final-check"]
        point = CheckPoint.objects.create(code="f", station=final, text="Clean", sample_every=5)
        with pytest.raises(ValidationError, match="looks at every drum"):
            point.clean()
        shell = shop.released()[0]
        step = shell.operations.select_related("station").get(station=final)
        assert len(checks_for(step, shell, ShellSpec.objects.get(shell=shell).results)) == 1

    @pytest.mark.parametrize(("serial", "number"), [("OW2600035N", 35), ("OW26000359", 35), ("ABCD2612345Z", 12345)])
    def test_the_running_number_of_a_serial(self, serial: str, number: int) -> None:
        assert running_number(serial) == number


class TestPhotos:
    def test_they_stand_in_the_record_and_the_story(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        kept = keep_photo(*_picture(shop, "red")), keep_photo(*_picture(shop, "blue"))
        sign_off(
            serial=shell.serial, position=1, person=shop.worker, answers={}, photos=kept, stamp=shop.stamp(shop.worker)
        )
        record = ShellRecord.objects.get(kind="signed")
        assert record.body["photos"] == [each.sha256 for each in kept]
        assert story_of(shell).events[-1].photos == tuple(Photo.objects.order_by("pk").values_list("pk", flat=True))
        assert list(verify_shell(Shell.objects.get(pk=shell.pk))) == []

    def test_a_photo_that_is_gone_or_unnamed_is_found(self, shop: SmallShop) -> None:
        shell = shop.released()[0]
        kept = keep_photo(*_picture(shop, "green"))
        signed = sign_off(
            serial=shell.serial,
            position=1,
            person=shop.worker,
            answers={},
            photos=[kept],
            stamp=shop.stamp(shop.worker),
        ).sign_off
        unprotect(connection, ["quality_photo"])
        Photo.objects.update(sha256="0" * 64)
        shell.refresh_from_db()
        assert {"is in no record", "is missing"} <= {
            words
            for broken in verify_shell(shell)
            for words in ("is in no record", "is missing")
            if words in broken.what
        }
        Photo.objects.all().delete()
        protect(connection, ["quality_photo"])
        assert [broken.sequence for broken in verify_shell(shell)] == [signed.record.sequence]


def _picture(shop: SmallShop, colour: str) -> tuple[Any, int, Any]:
    out = io.BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, "JPEG")
    return ContentFile(out.getvalue(), "p.jpg"), len(out.getvalue()), shop.clock
