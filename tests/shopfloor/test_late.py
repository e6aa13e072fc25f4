"""Entering from paper: step after step of a shell, and what is refused without losing what was typed."""

from __future__ import annotations

import re
from datetime import date
from itertools import count
from typing import TYPE_CHECKING

import pytest
from django.test import Client
from django.urls import reverse

from quality.actions import sign_off
from quality.lots import receive_lot
from quality.models import CheckPoint, LotKind, MaterialUse, Qualification, Reading, Role, SignOff
from quality.problems import report_problem
from routing.models import Shell, ShellSpec
from tests.shopfloor.tablets import Clock, Tablet, page, sign_through
from tests.small_shop import SmallShop, person

if TYPE_CHECKING:
    from django.test.client import _MonkeyPatchedWSGIResponse as Answer

pytestmark = pytest.mark.django_db
_keys = count(1)


@pytest.fixture
def shell(shop: SmallShop, clock: Clock) -> Shell:
    """Released on 2 November 2026 at 09:00 in the shop; the tablets are back ten days later."""
    made = shop.released()[0]
    clock.wait(days=10)
    return made


def enter(desk: Client, shell: Shell, position: int | str, signed_by: int | str, at: str, **more: object) -> Answer:
    form = {"tap_key": f"form {next(_keys)}", "position": position, "signed_by": signed_by, "on_paper_at": at} | more
    return desk.post(reverse("late:shell", args=[shell.serial]), form)


def opened(desk: Client, shell: Shell) -> str:
    return page(desk.get(reverse("late:shell", args=[shell.serial])))


def test_three_steps_in_order(shop: SmallShop, shell: Shell, supervisor: Client) -> None:
    times = {1: "2026-11-02T10:05", 2: "2026-11-02T13:30", 3: "2026-11-04T13:30"}
    for position, at in times.items():
        assert f'name="position" value="{position}"' in opened(supervisor, shell)
        answer = enter(supervisor, shell, position, shop.worker.pk, at)
        assert answer.status_code == 302
        assert answer["Location"] == reverse("late:shell", args=[shell.serial])
    now = opened(supervisor, shell)
    assert 'name="position" value="4"' in now
    entered = now.partition("Entered from paper so far")[2].partition("</table>")[0]
    assert re.findall(r"2026-11-0\d \d\d:\d\d", entered) == ["2026-11-02 10:05", "2026-11-02 13:30", "2026-11-04 13:30"]
    assert entered.count("2026-11-12 09:00 by Sam Supervisor") == 3
    signed = SignOff.objects.get(operation__position=1)
    assert (signed.person, signed.entered_by) == (shop.worker, shop.supervisor)
    assert signed.at.isoformat() == "2026-11-02T09:05:00+00:00"  # the shop is an hour ahead of universal time


def test_the_page_says_from_when_and_how(shop: SmallShop, shell: Shell, supervisor: Client) -> None:
    fresh = opened(supervisor, shell)
    assert 'type="datetime-local"' in fresh
    assert 'min="2026-11-02T09:00"' in fresh
    assert 'max="2026-11-12T09:00"' in fresh
    assert f"Not before 2026-11-02 09:00, when {shell.serial} was released." in fresh


def test_those_who_are_qualified_come_first(shop: SmallShop, shell: Shell, supervisor: Client) -> None:
    Qualification.objects.filter(person=shop.checker, station=shop.stations["cut"]).delete()
    fresh = opened(supervisor, shell)
    first, others = fresh.partition('<optgroup label="Others">')[::2]
    assert '<optgroup label="Qualified for cut">' in first
    assert shop.worker.name in first
    assert shop.checker.name not in first.partition("<optgroup")[2]
    assert shop.checker.name in others.partition("</optgroup>")[0]
    refused = enter(supervisor, shell, 1, shop.checker.pk, "2026-11-02T10:05")
    assert refused.status_code == 422
    assert "not qualified for cut" in page(refused)


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        (lambda serial: serial, ""),
        (lambda serial: f" {serial[:4]}-{serial[4:].lower()} ", ""),
        (lambda serial: f"https://shop.example/s/{serial}?r=1", "?r=1"),
    ],
)
def test_a_serial_typed_or_scanned_opens_the_shell(
    shop: SmallShop, shell: Shell, supervisor: Client, typed: object, said: str
) -> None:
    answer = supervisor.get(reverse("late:find"), {"q": typed(shell.serial)})  # type: ignore[operator]
    assert answer.status_code == 302
    assert answer["Location"] == reverse("late:shell", args=[shell.serial]) + said


@pytest.mark.parametrize(("words", "said"), [("SS2600001X", "does not fit"), ("nonsense!", "serial")])
def test_what_is_no_serial_is_said(shop: SmallShop, shell: Shell, supervisor: Client, words: str, said: str) -> None:
    answer = supervisor.get(reverse("late:find"), {"q": words})
    assert answer.status_code == 422
    assert said in page(answer)
    assert f'value="{words}"' in page(answer)


def test_an_unknown_drum(shop: SmallShop, shell: Shell, supervisor: Client) -> None:
    other = shop.released("K-9")[0].serial
    assert supervisor.get(reverse("late:shell", args=[other])).status_code == 200
    assert supervisor.get(reverse("late:shell", args=["SS26000019"])).status_code == 404


def test_paper_of_an_older_revision_is_said(shop: SmallShop, shell: Shell, supervisor: Client) -> None:
    url = reverse("late:shell", args=[shell.serial])
    assert "older revision" not in page(supervisor.get(url, {"r": "1"}))
    first = ShellSpec.objects.get()
    ShellSpec.objects.create(
        shell=shell,
        revision=2,
        formula_version=first.formula_version,
        inputs=first.inputs,
        results=first.results,
        reason="again",
        issued_at=shop.clock,
    )
    Shell.objects.update(spec_revision=2)
    assert "older revision" in page(supervisor.get(url, {"r": "1"}))
    assert "older revision" not in page(supervisor.get(url, {"r": "2"}))


class TestRefusals:
    @pytest.fixture
    def thickness(self, shop: SmallShop) -> str:
        point = CheckPoint.objects.create(
            code="t", station=shop.stations["cut"], text="Thickness", kind="measured", nominal=3.0, minus=0.2, plus=0.2
        )
        return f"check-{point.pk}"

    @pytest.mark.parametrize(
        ("at", "said"),
        [
            ("2026-11-12T09:01", "still to come"),
            ("2026-11-02T08:59", "was released"),
            ("2026-08-01T10:00", "more than 60 days ago"),
            ("", "Enter the date and the time that stand on the paper"),
            ("tomorrow", "Enter a date and a time"),
        ],
    )
    def test_a_time_that_cannot_be(self, shop: SmallShop, shell: Shell, supervisor: Client, at: str, said: str) -> None:
        answer = enter(supervisor, shell, 1, shop.worker.pk, at, note="read off the traveler")
        assert answer.status_code == 422
        assert said in page(answer)
        assert 'value="read off the traveler"' in page(answer)
        assert f'<option value="{shop.worker.pk}" selected>' in page(answer)
        assert not SignOff.objects.exists()

    def test_inside_the_dwell(self, shop: SmallShop, shell: Shell, supervisor: Client) -> None:
        enter(supervisor, shell, 1, shop.worker.pk, "2026-11-02T10:00")
        enter(supervisor, shell, 2, shop.worker.pk, "2026-11-02T11:00")
        answer = enter(supervisor, shell, 3, shop.worker.pk, "2026-11-04T10:59")
        assert answer.status_code == 422
        assert "only at 2026-11-04 11:00 the curing after press ended" in page(answer)

    def test_a_missing_reading_keeps_what_was_typed(
        self, shop: SmallShop, shell: Shell, supervisor: Client, thickness: str
    ) -> None:
        at = "2026-11-02T10:05"
        missing = enter(supervisor, shell, 1, shop.worker.pk, at)
        assert missing.status_code == 422
        assert "Still to be checked: Thickness" in page(missing)
        assert f'value="{at}"' in page(missing)
        wrong = enter(supervisor, shell, 1, shop.worker.pk, at, **{thickness: "3.7"})
        assert wrong.status_code == 422
        assert "does not pass" in page(wrong)
        assert 'value="3.7"' in page(wrong)
        assert "2.8 … 3.2" in page(wrong)
        assert enter(supervisor, shell, 1, shop.worker.pk, at, **{thickness: "3,1"}).status_code == 302
        assert Reading.objects.get().value == 3.1

    def test_twice_the_same_form(self, shop: SmallShop, shell: Shell, supervisor: Client) -> None:
        for _ in range(2):
            answer = enter(supervisor, shell, 1, shop.worker.pk, "2026-11-02T10:05", tap_key="once")
            assert answer.status_code == 302
        assert SignOff.objects.count() == 1

    def test_somebody_signed_meanwhile(self, shop: SmallShop, shell: Shell, supervisor: Client, thickness: str) -> None:
        sign_off(
            serial=shell.serial,
            position=1,
            person=shop.checker,
            answers={thickness.removeprefix("check-"): "3.0"},
            stamp=shop.stamp(shop.checker),
        )
        answer = enter(supervisor, shell, 1, shop.worker.pk, "2026-11-02T10:05", note="mine", **{thickness: "3.1"})
        assert answer.status_code == 409
        assert "Chris Checker signed cut" in page(answer)
        assert 'name="position" value="2"' in page(answer)
        assert 'value="mine"' not in page(answer)  # it belongs to another step
        assert SignOff.objects.count() == 1

    def test_a_step_that_is_not_the_next_or_none(self, shop: SmallShop, shell: Shell, supervisor: Client) -> None:
        for position in ("2", "99", "", "-1", "x"):
            answer = enter(supervisor, shell, position, shop.worker.pk, "2026-11-02T10:05")
            assert answer.status_code == 422
        assert not SignOff.objects.exists()

    @pytest.mark.parametrize("who", ["office", "99999", "'", ""])
    def test_a_name_that_is_not_in_the_list(self, shop: SmallShop, shell: Shell, supervisor: Client, who: str) -> None:
        """Somebody of the office signs no steps."""
        clerk = person("olive-office", Role.OFFICE)
        answer = enter(supervisor, shell, 1, str(clerk.pk) if who == "office" else who, "2026-11-02T10:05")
        assert answer.status_code == 422
        assert ("Choose whose name stands on the paper" if who == "" else "Choose somebody from the list") in page(
            answer
        )
        assert clerk.name not in page(answer)
        assert not SignOff.objects.exists()

    def test_a_held_shell(self, shop: SmallShop, shell: Shell, supervisor: Client) -> None:
        report_problem(serial=shell.serial, position=1, person=shop.worker, text="void", stamp=shop.stamp(shop.worker))
        held = opened(supervisor, shell)
        assert "is on hold at cut" in held
        assert "Enter this step" not in held
        assert enter(supervisor, shell, 1, shop.worker.pk, "2026-11-02T10:05").status_code == 422

    def test_a_dwell_that_still_runs(self, shop: SmallShop, shell: Shell, supervisor: Client) -> None:
        enter(supervisor, shell, 1, shop.worker.pk, "2026-11-12T08:00")
        enter(supervisor, shell, 2, shop.worker.pk, "2026-11-12T09:00")
        waiting = opened(supervisor, shell)
        assert "only on 2026-11-14 09:00 the curing after press ended" in waiting
        assert "Enter this step" not in waiting

    def test_a_packed_drum(self, shop: SmallShop, shell: Shell, clock: Clock, supervisor: Client) -> None:
        sign_through(shop, shell, shell.operations.count())
        assert "no step of it is left to sign" in opened(supervisor, shell)
        story = page(supervisor.get(reverse("trace:shell", args=[shell.serial])))
        assert reverse("late:shell", args=[shell.serial]) not in story


def test_materials_are_offered_and_kept(shop: SmallShop, shell: Shell, supervisor: Client) -> None:
    assert "Materials, as far" not in opened(supervisor, shell)
    receive_lot(
        code="P-1",
        kind=LotKind.PLATE,
        name="Birch 3.0",
        received_on=date(2026, 10, 1),
        person=shop.supervisor,
        stamp=shop.stamp(shop.supervisor),
    )
    assert '<option value="P-1">Birch 3.0</option>' in opened(supervisor, shell)
    field = {"material-plate-birch-3-0": "P-2"}
    refused = enter(supervisor, shell, 1, shop.worker.pk, "2026-11-02T10:05", **field)
    assert refused.status_code == 422
    assert "No lot has the code “P-2”" in page(refused)
    assert 'value="P-2"' in page(refused)
    field = {"material-plate-birch-3-0": "p-1"}
    assert enter(supervisor, shell, 1, shop.worker.pk, "2026-11-02T10:05", **field).status_code == 302
    assert MaterialUse.objects.get().lot is not None


class TestTheStory:
    def test_it_tells_both_names_and_both_times(
        self, shop: SmallShop, shell: Shell, supervisor: Client, office: Client
    ) -> None:
        enter(supervisor, shell, 1, shop.worker.pk, "2026-11-02T10:05")
        words = "igned on paper 2026-11-02 10:05, entered 2026-11-12 09:00 by Sam Supervisor"
        told = page(office.get(reverse("trace:shell", args=[shell.serial])))
        assert told.count(words) == 2  # under the step and in the story
        assert f"{shop.worker.name}, paper" in told
        story = office.get(reverse("trace:json", args=[shell.serial])).json()
        event, step = story["events"][-1], story["steps"][0]
        assert event["late"] == step["late"] == "s" + words
        assert event["entered_by"] == step["entered_by"] == shop.supervisor.name
        assert event["person"] == step["signed_by"] == shop.worker.name
        assert event["at"] == "2026-11-02T09:05:00+00:00"
        assert event["received_at"] == "2026-11-12T08:00:00+00:00"
        assert story["events"][0]["late"] == ""

    def test_an_own_signature_is_said_to_be_one(self, shop: SmallShop, shell: Shell, supervisor: Client) -> None:
        enter(supervisor, shell, 1, shop.supervisor.pk, "2026-11-02T10:05")
        assert "by Sam Supervisor, their own signature" in page(
            supervisor.get(reverse("trace:shell", args=[shell.serial]))
        )
        assert "their own signature" in opened(supervisor, shell)

    def test_the_way_there(self, shop: SmallShop, shell: Shell, supervisor: Client, office: Client) -> None:
        link = reverse("late:shell", args=[shell.serial])
        story = reverse("trace:shell", args=[shell.serial])
        assert f'href="{link}"' in page(supervisor.get(story))
        assert f'href="{link}"' not in page(office.get(story))

    def test_the_tablet_says_it_and_offers_no_way_back(
        self, shop: SmallShop, shell: Shell, supervisor: Client, cut: Tablet
    ) -> None:
        enter(supervisor, shell, 1, shop.worker.pk, "2026-11-02T10:05")
        step = page(cut.get("step", shell.serial))
        assert "2026-11-02 10:05, on paper; entered by Sam Supervisor, 2026-11-12 09:00" in step
        assert reverse("floor:withdraw", args=["cut", shell.serial]) not in page(cut.get("queue"))
