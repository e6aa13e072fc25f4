"""Several shells at once at the tablet."""

from __future__ import annotations

from typing import Any

from quality.models import CheckPoint, SignOff
from routing.models import Shell
from tests.shopfloor.tablets import Clock, Tablet, page
from tests.small_shop import SmallShop


def tap(cut: Tablet, shells: list[Shell], key: str = "rack", **typed: str):
    form: dict[str, Any] = {"tap_key": key, "shell": [shell.serial for shell in shells]} | typed
    form |= {f"position-{shell.serial}": "1" for shell in shells}
    return cut.client.post(cut.url("rack_sign"), form)


def test_all_that_can_be_worked_is_offered_by_kit(shop: SmallShop, cut: Tablet) -> None:
    shop.released("K-1", quantity=2)
    shop.released("K-2", quantity=1)
    shown = page(cut.get("rack"))
    assert "Whole kit, 2 here" in shown and shown.count('name="shell"') == 3
    assert page(cut.get("rack", kit="K-1")).count(" checked") == 2


def test_the_queue_leads_there_only_when_there_are_several(shop: SmallShop, cut: Tablet) -> None:
    shop.released("K-1")
    assert "Several at once" not in page(cut.get("queue"))
    shop.released("K-2")
    assert "Several at once" in page(cut.get("queue"))


def test_one_tap_signs_them_all_and_says_so_shell_by_shell(shop: SmallShop, cut: Tablet, moisture: CheckPoint) -> None:
    shells = shop.released(quantity=24)
    form = cut.client.get(cut.url("rack_sign"), {"shell": [shell.serial for shell in shells]})
    assert f"Sign 24 as {shop.worker.name}" in page(form)
    answer = tap(cut, shells, **{f"check-{moisture.pk}": "8,1"})
    assert answer.status_code == 200
    assert "24 signed" in page(answer)
    assert page(answer).count(f"signed by {shop.worker.name}") == 24
    assert SignOff.objects.count() == 24
    assert page(tap(cut, shells, **{f"check-{moisture.pk}": "8,1"})).count("signed by") == 24
    assert SignOff.objects.count() == 24


def test_what_was_not_signed_can_be_corrected_in_place(shop: SmallShop, cut: Tablet, moisture: CheckPoint) -> None:
    good, bad = shop.released(quantity=2)
    answer = tap(cut, [good, bad], **{f"check-{moisture.pk}": "8", f"check-{moisture.pk}-{bad.serial}": "12"})
    shown = page(answer)
    assert answer.status_code == 422
    assert "1 signed, 1 not signed" in shown and "allowed 6 … 10 %" in shown
    assert f'name="check-{moisture.pk}-{bad.serial}"' not in shown
    again = tap(cut, [bad], key="second", **{f"check-{moisture.pk}": "8"})
    assert again.status_code == 200 and SignOff.objects.count() == 2


def test_a_missing_answer_signs_nothing_and_loses_nothing(shop: SmallShop, cut: Tablet, moisture: CheckPoint) -> None:
    shells = shop.released(quantity=2)
    answer = tap(cut, shells, note="Damp delivery")
    assert answer.status_code == 422
    assert "0 signed, 2 not signed" in page(answer) and 'value="Damp delivery"' in page(answer)
    assert not SignOff.objects.exists()


def test_another_tablet_was_faster_with_one_of_them(shop: SmallShop, cut: Tablet) -> None:
    first, second = shop.released(quantity=2)
    other = Tablet("cut")
    other.sign_in(shop.worker)
    other.tap("sign", first)
    shown = page(tap(cut, [first, second]))
    assert "1 signed, 1 not signed" in shown and "nothing was changed" in shown


def test_nothing_chosen_leads_back(shop: SmallShop, cut: Tablet) -> None:
    shop.released()
    answer = cut.client.get(cut.url("rack_sign"), follow=True)
    assert "Choose at least one shell" in page(answer)
    assert tap(cut, []).status_code == 422


def test_a_form_without_the_step_it_showed_signs_nothing(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    answer = cut.client.post(cut.url("rack_sign"), {"tap_key": "x", "shell": [shell.serial]})
    assert answer.status_code == 422 and not SignOff.objects.exists()


def test_the_final_check_has_no_rack(shop: SmallShop, clock: Clock) -> None:
    tablet = Tablet("final-check")
    tablet.sign_in(shop.checker)
    answer = tablet.client.get(tablet.url("rack_sign"), {"shell": "x"}, follow=True)
    assert "drum by drum" in page(answer)
