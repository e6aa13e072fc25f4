"""A reading out of its limits at the tablet leads to a hold, with what was read and a photo."""

from __future__ import annotations

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse
from PIL import Image

from quality.models import CheckPoint, Defect, Problem, SignOff
from routing.models import ShellRecord, ShellState
from tests.shopfloor.tablets import Tablet, page
from tests.small_shop import SmallShop

pytestmark = pytest.mark.usefixtures("photos_folder")


def photo(name: str = "photo.jpg", content: bytes | None = None) -> SimpleUploadedFile:
    out = io.BytesIO()
    Image.new("RGB", (40, 30), "tan").save(out, "JPEG")
    return SimpleUploadedFile(name, out.getvalue() if content is None else content, "image/jpeg")


def test_the_page_offers_the_hold_only_when_a_reading_is_out(
    shop: SmallShop, cut: Tablet, moisture: CheckPoint
) -> None:
    (shell,) = shop.released()
    assert 'out-of-limits" hidden' in page(cut.get("step", shell.serial))
    refused = page(cut.tap("sign", shell, **{f"check-{moisture.pk}": "14"}))
    assert 'out-of-limits" data-out-of-limits' in refused
    assert "a supervisor decides on rework" in refused


def test_the_reading_that_does_not_pass_is_what_is_wrong(shop: SmallShop, cut: Tablet, moisture: CheckPoint) -> None:
    (shell,) = shop.released()
    answer = cut.tap("problem", shell, **{f"check-{moisture.pk}": "14"})
    assert answer.status_code == 302
    problem = Problem.objects.get()
    assert problem.text == "Moisture of one plate: 14 % (allowed 6 … 10 %)"
    body = ShellRecord.objects.get(shell=shell, kind="held").body
    assert [(reading["value"], reading["passed"]) for reading in body["readings"]] == [(14, False)]
    shell.refresh_from_db()
    assert shell.state == ShellState.ON_HOLD and not SignOff.objects.exists()


def test_a_reading_that_passes_says_nothing_is_wrong(shop: SmallShop, cut: Tablet, moisture: CheckPoint) -> None:
    (shell,) = shop.released()
    answer = cut.tap("problem", shell, **{f"check-{moisture.pk}": "8"})
    assert answer.status_code == 422 and "Say what is wrong" in page(answer)
    assert not Problem.objects.exists()


def test_defect_words_and_reading_stand_together(shop: SmallShop, cut: Tablet, moisture: CheckPoint) -> None:
    defect = Defect.objects.create(code="X1", name="plates damp", found_at="cut")
    (shell,) = shop.released()
    cut.tap("problem", shell, **{f"check-{moisture.pk}": "14", "defect": defect.code, "text": "Rain came in"})
    problem = Problem.objects.get()
    assert problem.text.startswith("Rain came in; Moisture of one plate: 14 %") and problem.defect == defect


def test_a_photo_is_kept_and_shown_on_floor_and_trace(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    cut.tap("problem", shell, text="Split", photo=photo())  # type: ignore[arg-type]
    kept = Problem.objects.get().photos.get()
    assert reverse("floor:photo", args=["cut", kept.pk]) in page(cut.get("step", shell.serial))
    answer = cut.get("photo", kept.pk)
    assert (answer.status_code, answer["Content-Type"]) == (200, "image/jpeg")
    office = Client()
    office.force_login(shop.supervisor)
    address = reverse("trace:photo", args=[kept.pk])
    assert address in office.get(reverse("trace:shell", args=[shell.serial])).content.decode()
    assert office.get(address).content == answer.content


def test_what_is_no_photo_is_refused_and_nothing_is_held(shop: SmallShop, cut: Tablet) -> None:
    (shell,) = shop.released()
    answer = cut.tap("problem", shell, text="Split", photo=photo(content=b"no picture"))  # type: ignore[arg-type]
    assert answer.status_code == 422
    assert "no photo that can be read" in page(answer) and 'value="Split"' in page(answer)
    assert not Problem.objects.exists()
