"""The recipe book: every kind of recipe is listed, added and changed; mistakes are refused with a sentence."""

from __future__ import annotations

from typing import Any

import pytest
from django.forms import BaseFormSet, ModelForm, TypedChoiceField
from django.test import Client
from django.urls import reverse

from quality.models import CheckPoint, Defect
from routing.models import LayUp, Plate, RouteTemplate, Species, Station
from shopfloor.bench.forms import BenchForm
from shopfloor.catalog import field_words, forms
from shopfloor.catalog.defects import DefectForm
from shopfloor.catalog.recipes import RECIPES
from shopfloor.floor.step import defects_at
from shopfloor.orders.forms import LineForm, OrderForm
from shopfloor.stored_words import WORDS
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


def as_shown(client: Client, url: str) -> dict[str, Any]:
    """What a browser would send back if nothing on the page at ``url`` were changed."""
    context = client.get(url).context
    formsets: list[BaseFormSet[Any]] = [formset for _, formset in context.get("tables", [])]
    if "steps" in context:
        formsets.append(context["steps"])
    data: dict[str, Any] = {}
    for form in [context["form"], *[f.management_form for f in formsets], *[row for f in formsets for row in f.forms]]:
        for field in form:
            value = field.value()
            if value is not None and value is not False:
                data[field.html_name] = value
    return data


def test_every_kind_is_listed_and_its_form_opens(shop: SmallShop, supervisor: Client) -> None:
    assert supervisor.get(reverse("catalog:index")).status_code == 200
    for kind, recipe in RECIPES.items():
        assert supervisor.get(reverse("catalog:list", args=[kind])).status_code == 200
        assert supervisor.get(reverse("catalog:new", args=[kind])).status_code == 200
        for item in recipe.model._default_manager.all():
            assert supervisor.get(reverse("catalog:recipe", args=[kind, item.pk])).status_code == 200
    assert supervisor.get(reverse("catalog:list", args=["nonsense"])).status_code == 404


def test_every_recipe_of_the_shop_is_saved_again_as_it_was(shop: SmallShop, supervisor: Client) -> None:
    for kind, recipe in RECIPES.items():
        for item in recipe.model._default_manager.all():
            url = reverse("catalog:recipe", args=[kind, item.pk])
            answer = supervisor.post(url, as_shown(supervisor, url))
            assert answer.status_code == 302, (kind, answer.context["form"].errors)


def test_a_plate_is_added_and_changed(shop: SmallShop, supervisor: Client) -> None:
    url = reverse("catalog:new", args=["plates"])
    data = {
        "name": "Beech 1.0",
        "is_active": "on",
        "note": "",
        "species": Species.objects.get().pk,
        "thickness_mm": "1.0",
        "veneers": "1",
        "stock_length_mm": "2500",
        "stock_width_mm": "1250",
    }
    assert supervisor.post(url, data).status_code == 302
    plate = Plate.objects.get(name="Beech 1.0")
    assert (
        supervisor.post(
            reverse("catalog:recipe", args=["plates", plate.pk]), data | {"thickness_mm": "1.1"}
        ).status_code
        == 302
    )
    plate.refresh_from_db()
    assert plate.thickness_mm == 1.1
    twice = supervisor.post(url, data | {"name": "beech 1.0"})
    assert twice.status_code == 422
    assert "This name is taken" in twice.content.decode()
    too_thick = supervisor.post(url, data | {"name": "Slab", "thickness_mm": "40"})
    assert too_thick.status_code == 422
    assert "less than or equal to 12" in too_thick.content.decode()


def test_a_change_that_no_drum_can_be_made_from_is_refused_whole(shop: SmallShop, supervisor: Client) -> None:
    lay_up = LayUp.objects.get()
    url = reverse("catalog:recipe", args=["lay-ups", lay_up.pk])
    data = as_shown(supervisor, url)
    for row in range(3):
        data[f"rows0-{row}-DELETE"] = "on"
    answer = supervisor.post(url, data)
    assert answer.status_code == 422
    assert "Not saved" in answer.content.decode()
    assert lay_up.plates.count() == 3


def test_a_role_and_its_hardware_must_fit(shop: SmallShop, supervisor: Client) -> None:
    url = reverse("catalog:recipe", args=["drums", shop.model.pk])
    data = as_shown(supervisor, url) | {"role": "bass"}
    answer = supervisor.post(url, data)
    assert answer.status_code == 422
    assert "This hardware set is for a snare" in answer.content.decode()


def test_a_changed_route_is_a_new_revision_and_released_shells_keep_theirs(shop: SmallShop, supervisor: Client) -> None:
    shell = shop.released()[0]
    url = reverse("catalog:route", args=["snare", "lacquer"])
    assert supervisor.get(reverse("catalog:routes")).status_code == 200
    data = as_shown(supervisor, url) | {"revision": "1", "note": "no edge station any more", "steps-2-DELETE": "on"}
    assert supervisor.post(url, data).status_code == 302
    old, new = RouteTemplate.objects.filter(role="snare", finish_kind="lacquer").order_by("revision")
    assert (old.is_current, new.is_current, new.revision) == (False, True, 2)
    assert old.steps.count() == new.steps.count() + 1
    assert shell.operations.count() == 8
    stale = supervisor.post(url, data)
    assert stale.status_code == 422
    assert "Somebody changed this route meanwhile" in stale.content.decode()


def test_a_route_needs_steps_in_different_places(shop: SmallShop, supervisor: Client) -> None:
    url = reverse("catalog:route", args=["snare", "lacquer"])
    data = as_shown(supervisor, url) | {"revision": "1"}
    same_place = supervisor.post(url, data | {"steps-1-position": "1"})
    assert same_place.status_code == 422
    assert "share a place" in same_place.content.decode()
    none = supervisor.post(url, data | {f"steps-{n}-DELETE": "on" for n in range(7)})
    assert none.status_code == 422
    assert "at least one step" in none.content.decode()
    assert supervisor.get(reverse("catalog:route", args=["gong", "lacquer"])).status_code == 404


def test_a_changed_check_is_a_new_revision(shop: SmallShop, supervisor: Client) -> None:
    cut = Station.objects.get(code="cut")
    new = {"station": cut.pk, "position": 1, "text": "Depth", "kind": "measured", "unit": "mm"} | {
        "places": "1",
        "judged": "each",
        "sample_every": "1",
        "spec_key": "shell.depth_mm",
        "minus": "0.5",
        "plus": "0.5",
    }
    assert supervisor.post(reverse("catalog:new_check"), new).status_code == 302
    point = CheckPoint.objects.get()
    url = reverse("catalog:check", args=[point.code])
    assert supervisor.post(url, new | {"plus": "0.3"}).status_code == 302
    old, current = CheckPoint.objects.order_by("revision")
    assert (old.is_current, old.plus, current.is_current, current.plus) == (False, 0.5, True, 0.3)
    assert "Depth" in supervisor.get(reverse("catalog:checks")).content.decode()
    no_limit = supervisor.post(reverse("catalog:new_check"), new | {"minus": "", "plus": ""})
    assert no_limit.status_code == 422
    assert "at least one limit" in no_limit.content.decode()
    assert supervisor.post(url, {"retire": "1"}).status_code == 302
    assert not CheckPoint.objects.filter(is_current=True).exists()
    assert supervisor.get(url).status_code == 404


def test_a_count_and_a_sampled_check(shop: SmallShop, supervisor: Client) -> None:
    cut, final = (Station.objects.get(code=code) for code in ("cut", "final-check"))
    new = {"station": cut.pk, "position": 1, "text": "Rods", "kind": "count", "places": "1", "judged": "each"}
    url = reverse("catalog:new_check")
    nothing = supervisor.post(url, new | {"sample_every": "5"})
    assert nothing.status_code == 422
    assert "needs a place in the spec" in nothing.content.decode()
    assert supervisor.post(url, new | {"sample_every": "5", "spec_key": "hardware.rods"}).status_code == 302
    assert "one drum in 5" in supervisor.get(reverse("catalog:checks")).content.decode()
    sampled = supervisor.post(url, new | {"station": final.pk, "sample_every": "2", "spec_key": "hardware.rods"})
    assert sampled.status_code == 422
    assert "looks at every drum" in sampled.content.decode()


def test_a_defect_is_added_changed_and_taken_out_of_use(shop: SmallShop, supervisor: Client) -> None:
    url = reverse("catalog:new_defect")
    new = {"code": "d90", "name": "dent", "found_at": ["edge", "trim"], "severity": "minor", "is_active": "on"}
    assert supervisor.post(url, new).status_code == 302
    dent = Defect.objects.get()
    assert (dent.code, dent.found_at, dent.caused_at) == ("D90", "edge,trim", "")
    assert supervisor.post(url, new).status_code == 422  # the code is taken, whatever its case
    page = supervisor.get(reverse("catalog:defects")).content.decode()
    assert "edge, trim" in page
    edit = reverse("catalog:defect", args=[dent.pk])
    assert 'value="edge" id="id_found_at_3" checked' in " ".join(supervisor.get(edit).content.decode().split())
    assert supervisor.post(edit, new | {"caused_at": ["press"], "is_active": ""}).status_code == 302
    dent.refresh_from_db()
    assert (dent.caused_at, dent.is_active) == ("press", False)
    assert "not in use" in supervisor.get(reverse("catalog:defects")).content.decode()
    assert [each.code for each in defects_at(Station.objects.get(code="edge"))] == []
    assert supervisor.post(url, new | {"found_at": ["moon"], "code": "D91"}).status_code == 422


def test_the_office_reads_the_book_but_does_not_change_it(shop: SmallShop, office: Client) -> None:
    assert office.get(reverse("catalog:list", args=["plates"])).status_code == 200
    assert office.get(reverse("catalog:new", args=["plates"])).status_code == 403
    assert office.post(reverse("catalog:recipe", args=["plates", 1]), {}).status_code == 403


def test_a_route_does_not_pack_before_the_final_check(shop: SmallShop, supervisor: Client) -> None:
    url = reverse("catalog:route", args=["snare", "lacquer"])
    data = as_shown(supervisor, url) | {"revision": "1"}
    no_check = supervisor.post(url, data | {"steps-5-DELETE": "on"})
    assert no_check.status_code == 422
    assert "not packed without a final check" in no_check.content.decode()
    packed_early = supervisor.post(url, data | {"steps-6-position": "0"})
    assert packed_early.status_code == 422
    assert "as the last step" in packed_early.content.decode()


def test_what_a_released_drum_is_does_not_change(shop: SmallShop, supervisor: Client) -> None:
    shop.released()
    url = reverse("catalog:recipe", args=["drums", shop.model.pk])
    refused = supervisor.post(url, as_shown(supervisor, url) | {"nominal_depth_in": "8"})
    assert refused.status_code == 422
    assert "Make a new model" in refused.content.decode()
    assert supervisor.post(url, as_shown(supervisor, url) | {"note": "still made"}).status_code == 302


def test_what_forms_say_of_the_tables_is_named_for_the_catalogues() -> None:
    kinds: list[type[ModelForm[Any]]] = [forms.recipe_form(recipe) for recipe in RECIPES.values()]
    kinds += [forms.rows_formset(recipe, rows).form for recipe in RECIPES.values() for rows in recipe.rows]
    kinds += [forms.StepFormSet.form, forms.CheckPointForm, forms.RouteForm, DefectForm, BenchForm, OrderForm, LineForm]
    fields = [field for kind in kinds for field in kind.base_fields.values()]
    texts = {words for field in fields for words in (field.label, field.help_text) if words and isinstance(words, str)}
    assert {"Lay up", "Usual disposition"} <= texts, "the words are found"
    assert texts - {*field_words.LABELS, *field_words.HELPS} == set()
    choices: list[Any] = [field.choices for field in fields if isinstance(field, TypedChoiceField)]
    labels = {str(label) for each in choices for value, label in each if value}
    assert labels, "the choices are found"
    assert labels - {*field_words.CHOICES, *WORDS} == set()
