"""The rings of the board's lists: pictures with an address that says the states."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from quality.actions import begin_step
from quality.problems import report_problem
from routing.drawings.ring import _body
from routing.models import Shell
from shopfloor.ring_images import LETTERS, MOST_STEPS, ring_code, states_of
from shopfloor.rings import ring_of
from tests.shopfloor.boards import rows, sign
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize(
    ("states", "code"),
    [
        (["waiting"], "w"),
        (["done"] * 5 + ["ready"] + ["waiting"] * 7, "5dr7w"),
        (["done"] * 12 + ["on_hold", "skipped"], "12dhs"),
        (["done", "drying", "waiting", "waiting"], "dy2w"),
        (["done", "in_work"] * 2, "didi"),
    ],
)
def test_a_code_says_the_states_and_nothing_else(states: list[str], code: str) -> None:
    assert ring_code(states) == code
    assert states_of(code) == states


@pytest.mark.parametrize("code", ["", "x", "5", "0w", "d5", "99w", f"{MOST_STEPS}dw", "w" * 5000, "5d/7w", "５w"])
def test_what_is_no_code_is_no_ring(code: str, client: Client) -> None:
    with pytest.raises(ValueError, match="ring"):
        states_of(code)
    assert client.get(f"/r/{code}").status_code == 404


def test_a_ring_is_the_house_s_drawing_with_the_colours_of_the_screens(client: Client) -> None:
    answer = client.get(reverse("ring", args=["2dyr3whs"]))
    svg = answer.content.decode()
    assert answer["Content-Type"] == "image/svg+xml"
    assert "max-age=86400" in answer["Cache-Control"]
    assert _body(tuple(states_of("2dyr3whs"))) in svg
    assert {f"ring-{kind}" for kind in ("waiting", "done", "now", "dry", "hatch", "wedge")} <= set(
        re.findall(r"\.(ring-[\w-]+) \{", svg)
    )
    assert "var(" not in svg and "#861b12" in svg


def test_every_state_has_a_letter() -> None:
    assert states_of("".join(LETTERS.values())) == list(LETTERS)


def test_the_list_shows_the_ring_that_every_other_screen_draws(shop: SmallShop) -> None:
    curing, held, working, fresh = (shell.serial for shell in shop.released("K-1", quantity=4))
    sign(shop, curing, 1)
    sign(shop, curing, 2)
    sign(shop, working, 1)
    begin_step(
        serial=working, position=2, person=shop.worker, station=shop.stations["press"], stamp=shop.stamp(shop.worker)
    )
    report_problem(serial=held, position=1, person=shop.worker, text="split", stamp=shop.stamp(shop.worker))
    shown = {row.serial: row.ring for code in shop.stations for row in rows(shop, code)}
    drawn = {shell.serial: ring_code(state for state, _ in ring_of(shell, shop.clock)) for shell in Shell.objects.all()}
    assert shown == drawn
    assert [drawn[serial][:3] for serial in (curing, held, working, fresh)] == ["dy6", "h7w", "di6", "r7w"]
