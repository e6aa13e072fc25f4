"""The spec bench: any drum without an order, compared and saved."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any, get_args, get_type_hints

import pytest
from django.test import Client
from django.urls import reverse

from routing.models import DrumModel, HardwareSet
from routing.specs.sheet import SpecSheet
from shopfloor.bench.field_words import LABELS, TITLES
from shopfloor.bench.sections import label_and_unit, sections_of, shown
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def setup(shop: SmallShop, **changes: object) -> dict[str, Any]:
    model = shop.model
    return {
        "line": model.line_id,
        "finish": shop.finish.pk,
        "role": "snare",
        "nominal_diameter_in": "14",
        "nominal_depth_in": "6.5",
        "lay_up": model.lay_up_id,
        "batter_edge": model.batter_edge_id,
        "resonant_edge": model.resonant_edge_id,
        "hardware": model.hardware_id,
        "snare_bed_depth_mm": "1.2",
        "snare_bed_flat_mm": "50",
        "snare_bed_width_mm": "100",
    } | changes


def test_it_opens_with_a_drum_of_the_book_and_shows_its_numbers(shop: SmallShop, supervisor: Client) -> None:
    page = supervisor.get(reverse("bench:bench"))
    text = page.content.decode()
    assert page.context["here"].sheet.shell.outside_diameter_mm == pytest.approx(352.4)
    assert "352.4 mm" in text
    assert text.count('class="drawing ') == 5


def test_a_change_is_computed_at_once_and_nothing_is_saved(shop: SmallShop, supervisor: Client) -> None:
    answer = supervisor.get(reverse("bench:bench"), setup(shop), headers={"HX-Request": "true"})
    assert answer.context["here"].sheet.shell.depth_mm == pytest.approx(165.1)
    assert "<html" not in answer.content.decode()
    assert DrumModel.objects.count() == 1


def test_what_cannot_be_made_is_said_beside_its_field(shop: SmallShop, supervisor: Client) -> None:
    answer = supervisor.get(reverse("bench:bench"), setup(shop, snare_bed_width_mm="45"))
    here = answer.context["here"]
    assert here.sheet is None
    assert here.form.errors
    assert "wider than its flat" in answer.content.decode()


def test_two_setups_stand_side_by_side_with_their_differences(shop: SmallShop, supervisor: Client) -> None:
    first = supervisor.get(reverse("bench:bench"), setup(shop)).context["here"].query
    rows = supervisor.get(reverse("bench:bench"), setup(shop, nominal_depth_in="8") | {"other": first}).context["rows"]
    differing = {(line["here"] or line["other"]).key for row in rows for line in row["lines"] if line["differs"]}
    assert "shell.depth_mm" in differing
    assert "shell.outside_diameter_mm" not in differing


def test_a_setup_is_saved_as_a_drum_model(shop: SmallShop, supervisor: Client, office: Client) -> None:
    data = setup(shop) | {"code": "heron-snare-14x6-5"}
    assert office.post(reverse("bench:save"), data).status_code == 403
    assert supervisor.post(reverse("bench:save"), data).status_code == 302
    assert DrumModel.objects.get(code="heron-snare-14x6-5").nominal_depth_in == 6.5
    again = supervisor.post(reverse("bench:save"), data)
    assert again.status_code == 422
    assert "already" in again.content.decode()
    assert supervisor.post(reverse("bench:save"), data | {"code": "x", "lay_up": ""}).status_code == 422
    assert supervisor.get(reverse("bench:save")).status_code == 405


def test_an_empty_book_says_where_to_begin(shop: SmallShop, supervisor: Client) -> None:
    DrumModel.objects.all().delete()
    HardwareSet.objects.all().delete()
    assert "The recipe book is empty" in supervisor.get(reverse("bench:bench")).content.decode()


@pytest.mark.parametrize(
    ("name", "label", "unit"),
    [
        ("outside_diameter_mm", "outside diameter", "mm"),
        ("spread_g_per_m2", "spread", "g/m²"),
        ("temperature_c", "temperature", "°C"),
        ("lugs_per_head", "lugs per head", ""),
        ("area_m2", "area", "m²"),
    ],
)
def test_labels_and_units_come_from_the_names(name: str, label: str, unit: str) -> None:
    assert label_and_unit(name) == (label, unit)


def test_figures_are_written_for_people() -> None:
    assert [shown(value) for value in (352.4000001, 0.012345, True, 14.0, "x")] == ["352.4", "0.0123", "yes", "14", "x"]


def test_what_only_one_of_two_setups_has_is_shown_too(shop: SmallShop, supervisor: Client) -> None:
    first = supervisor.get(reverse("bench:bench"), setup(shop)).context["here"].query
    tom = setup(shop, nominal_depth_in="8")
    answer = supervisor.get(reverse("bench:bench"), tom | {"other": first, "measured_mm": "3.1"})
    titles = {table["title"]: table["differs"] for row in answer.context["rows"] for table in row["tables"]}
    assert titles["plates"] and titles["blanks"]
    assert "Kept to compare" not in answer.content.decode()
    assert answer.content.decode().count('class="drawing ') == 10


def test_another_room_and_measured_plates_can_be_tried(shop: SmallShop, supervisor: Client) -> None:
    plain = supervisor.get(reverse("bench:bench"), setup(shop)).context["here"].sheet
    tried = setup(shop) | {"temperature_c": "12", "plate_moisture_pct": "11.5", "measured_mm": "– 3.1"}
    answer = supervisor.get(reverse("bench:bench"), tried)
    here = answer.context["here"]
    assert here.sheet.layup.plates[1].thickness_mm == 3.1
    assert here.sheet.gluing.clocks.pot_life_min > plain.gluing.clocks.pot_life_min
    assert "Too wet to glue" in here.form.fields["plate_moisture_pct"].warnings[0]
    assert any("no film forms" in warning for warning in here.form.fields["temperature_c"].warnings)


@pytest.mark.parametrize("measured", ["thick", "3 3 3 3 3 3 3", "55"])
def test_plates_that_cannot_be_are_refused_beside_their_field(
    shop: SmallShop, supervisor: Client, measured: str
) -> None:
    here = supervisor.get(reverse("bench:bench"), setup(shop) | {"measured_mm": measured}).context["here"]
    assert here.sheet is None and "measured_mm" in here.form.errors


def names_within(kind: Any) -> Iterator[str]:
    """The names of all fields of a dataclass, and of the dataclasses that its fields are made of."""
    if is_dataclass(kind):
        hints = get_type_hints(kind)
        for field in fields(kind):
            if field.name != "warnings":
                yield field.name
                yield from names_within(hints[field.name])
    for part in get_args(kind):
        yield from names_within(part)


def test_every_word_that_the_bench_makes_of_a_field_is_named_for_the_catalogues(
    shop: SmallShop, supervisor: Client
) -> None:
    kinds = get_type_hints(SpecSheet)
    labels = {label_and_unit(name)[0] for field in fields(SpecSheet) for name in names_within(kinds[field.name])}
    assert labels - set(LABELS) == set()
    sections = sections_of(supervisor.get(reverse("bench:bench")).context["here"].sheet)
    assert {section.title for section in sections} - set(TITLES) == set()
