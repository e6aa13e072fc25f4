"""Counting, sampling and photos of a signature, at the tablet."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from quality.models import CheckPoint, Photo, SignOff
from routing.models import ShellSpec
from tests.shopfloor.tablets import Tablet, page
from tests.shopfloor.test_floor_hold import photo
from tests.small_shop import SmallShop

pytestmark = pytest.mark.usefixtures("photos_folder")


def test_each_line_of_the_list_has_a_field_and_a_wrong_one_is_named(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    lines = ShellSpec.objects.get(shell=shell).results["hardware"]["pick_list"]
    point = CheckPoint.objects.create(
        code="n", station=shop.stations["cut"], text="Parts", kind="count", spec_key="hardware.pick_list"
    )
    shown = page(cut.get("step", shell.serial))
    for line in lines:
        assert f"{line['name']}: {line['quantity']}" in shown
    assert shown.count(f'name="check-{point.pk}"') == len(lines)
    counted = [str(line["quantity"]) for line in lines]
    wrong = cut.client.post(
        cut.url("sign", shell.serial),
        {"position": "1", "tap_key": "a", f"check-{point.pk}": ["0", *counted[1:]]},
    )
    assert wrong.status_code == 422
    assert f"{lines[0]['name']} 0 instead of {lines[0]['quantity']}" in page(wrong)
    right = cut.client.post(
        cut.url("sign", shell.serial), {"position": "1", "tap_key": "b", f"check-{point.pk}": counted}
    )
    assert right.status_code == 302
    assert SignOff.objects.get().readings.get().values == [float(number) for number in counted]


def test_a_drum_that_is_not_sampled_says_so_quietly(shop: SmallShop, cut: Tablet) -> None:
    first, second = shop.released(quantity=2)
    CheckPoint.objects.create(code="s", station=shop.stations["cut"], text="Wall, cut through", sample_every=2)
    shown = page(cut.get("step", first.serial))
    assert "Not this drum, only every so many is looked at: Wall, cut through (every 2)" in shown
    assert cut.tap("sign", first).status_code == 302
    assert "Not this drum" not in page(cut.get("step", second.serial))
    assert cut.tap("sign", second).status_code == 422


def test_photos_go_with_the_signature(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    two = [photo("a.jpg"), photo("b.jpg")]
    cut.tap("sign", shell, **{"sign-photo": two})  # type: ignore[arg-type]
    kept = list(Photo.objects.all())
    assert [each.sign_off_id for each in kept] == [SignOff.objects.get().pk] * 2
    office = Client()
    office.force_login(shop.supervisor)
    address = reverse("trace:photo", args=[kept[-1].pk])
    assert address in office.get(reverse("trace:shell", args=[shell.serial])).content.decode()
    assert office.get(address)["Content-Type"] == "image/jpeg"


def test_too_many_photos_or_none_that_can_be_read_sign_nothing(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    four = [photo() for _ in range(4)]
    assert "At most 3 photos" in page(cut.tap("sign", shell, **{"sign-photo": four}))  # type: ignore[arg-type]
    bad = photo(content=b"no picture")
    assert cut.tap("sign", shell, **{"sign-photo": bad}).status_code == 422  # type: ignore[arg-type]
    assert not SignOff.objects.exists()
