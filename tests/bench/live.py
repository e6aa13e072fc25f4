"""A shop full of work, written past the actions: open orders whose shells stand everywhere between cut and pack, with what
was signed so far, what is held, what dries, and a plan of all that is left to do.

Specs and routes are those that the recipe book gives, so a step of these shells can be signed; their chains begin here.
"""

from __future__ import annotations

import json
import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from quality.models import Person, Role
from routing.models import DrumModel, Finish, Plan, Shop
from routing.release import PreparedDrum, prepare_drum
from tests.bench.many import count_rows, next_key, serial_of, write

PER_ORDER = 5
LATE = 0.1  # of the orders
HELD, IN_WORK = 0.03, 0.08  # of the shells
STEP = timedelta(hours=3)  # between two signatures of a shell


@dataclass(frozen=True, slots=True)
class Recipe:
    model: DrumModel
    finish: Finish
    prepared: PreparedDrum
    inputs: str
    results: str


@dataclass(frozen=True, slots=True)
class _Open:
    """One shell: where it stands."""

    pk: int
    order: int
    due: date
    recipe: Recipe
    at: int  # place of its current step in its route, from 0
    state: str
    not_before: datetime | None
    first_step: int  # id of its first operation


def open_shop(shells: int, series: str, now: datetime, *, specs: bool = True) -> list[int]:
    """Write ``shells`` open shells and a current plan of them; the ids of the shells. What was planned before is current
    no longer. Without ``specs`` they are empty: nothing can be signed then, and much less is written."""
    draw = random.Random(11)
    recipes = _recipes(specs)
    people = list(Person.objects.filter(role=Role.WORKER).order_by("pk"))
    order_0, line_0 = next_key("routing_kitorder"), next_key("routing_kitline")
    shell_0, step_0 = next_key("routing_shell"), next_key("routing_operation")
    orders = -(-shells // PER_ORDER)
    kits = [draw.choice(recipes) for _ in range(orders)]
    dues = [
        (now + timedelta(days=draw.randint(-12, -1) if draw.random() < LATE else n * 30 // orders)).date()
        for n in range(orders)
    ]
    every: list[_Open] = []
    for n in range(shells):
        recipe = kits[n // PER_ORDER]
        kit = n // PER_ORDER
        every.append(_stands(draw, shell_0 + n, (order_0 + kit, dues[kit]), recipe, now, step_0))
        step_0 += len(recipe.prepared.steps)
    write(
        "routing_kitorder",
        (
            "id",
            "number",
            "customer",
            "customer_reference",
            "due",
            "state",
            "weight",
            "note",
            "created_at",
            "released_at",
        ),
        (
            (order_0 + n, f"{series}-{n:05d}", f"Customer {n % 97}", "", due, "in_production", 1, "", now, now)
            for n, due in enumerate(dues)
        ),
    )
    write(
        "routing_kitline",
        ("id", "order_id", "position", "model_id", "finish_id", "quantity", "note"),
        (
            (line_0 + n, order_0 + n, 1, recipe.model.pk, recipe.finish.pk, PER_ORDER, "")
            for n, recipe in enumerate(kits)
        ),
    )
    released = now - timedelta(days=20)
    write(
        "routing_shell",
        (
            *("id", "serial", "order_id", "line_id", "model_id", "finish_id", "state", "spec_revision"),
            *("released_at", "chain_length", "chain_head"),
        ),
        (
            (
                *(each.pk, serial_of(series, n), each.order, line_0 + n // PER_ORDER),
                *(each.recipe.model.pk, each.recipe.finish.pk),
                "on_hold" if each.state == "on_hold" else "in_production" if each.at else "planned",
                *(1, released, each.at + 1, "-"),
            )
            for n, each in enumerate(every)
        ),
    )
    write(
        "routing_shellspec",
        ("shell_id", "revision", "formula_version", "inputs", "results", "reason", "issued_at"),
        ((each.pk, 1, "2", each.recipe.inputs, each.recipe.results, "released", released) for each in every),
    )
    write(
        "routing_operation",
        (
            *("id", "shell_id", "position", "station_id", "title", "coat_index", "state", "attempt", "dwell_kind"),
            *(
                "dwell_minutes",
                "work_min",
                "started_by_name",
                "touch_seconds",
                "not_before",
                "due",
                "ready_at",
                "done_at",
            ),
        ),
        (row for each in every for row in _steps(each, now, people)),
    )
    _records(every, now, people)
    _problems([each for each in every if each.state == "on_hold"], now, people)
    _plan(every, now)
    count_rows()
    return [each.pk for each in every]


def _recipes(specs: bool) -> list[Recipe]:
    shop = Shop.current()
    finishes = list(Finish.objects.order_by("pk"))
    found = []
    for model in DrumModel.objects.select_related("line").order_by("pk"):
        finish = next(finish for finish in finishes if finish.kind == model.line.finish_kind)
        prepared = prepare_drum(model, finish, shop)
        inputs, results = (prepared.inputs, prepared.results) if specs else ({}, {})
        found.append(Recipe(model, finish, prepared, json.dumps(inputs), json.dumps(results)))
    return found


def _stands(
    draw: random.Random, pk: int, order: tuple[int, date], recipe: Recipe, now: datetime, first_step: int
) -> _Open:
    steps = recipe.prepared.steps
    at = draw.randrange(len(steps))
    chance = draw.random()
    state = "on_hold" if chance < HELD else "in_work" if chance < HELD + IN_WORK else "ready"
    dwell = steps[at - 1].dwell_minutes if at and state == "ready" else 0
    not_before = now + timedelta(minutes=dwell * draw.uniform(-1, 1)) if dwell else None
    return _Open(pk, *order, recipe, at, state, not_before, first_step)


def _steps(each: _Open, now: datetime, people: list[Person]) -> Iterator[tuple[Any, ...]]:
    for place, step in enumerate(each.recipe.prepared.steps):
        behind = each.at - place
        current = not behind
        yield (
            *(each.first_step + place, each.pk, place + 1, step.station.pk, step.title, step.coat_index),
            *(each.state if current else "done" if behind > 0 else "waiting", 1, step.dwell_kind),
            *(step.dwell_minutes, step.work_min),
            people[each.pk % len(people)].name if current and each.state == "in_work" else "",
            *(0, each.not_before if current else None, each.due),
            now - STEP * (behind + 1) - timedelta(seconds=each.pk % 7200) if behind >= 0 else None,
            now - STEP * behind if behind > 0 else None,
        )


def _records(every: list[_Open], now: datetime, people: list[Person]) -> None:
    record_0, sign_0 = next_key("routing_shellrecord"), next_key("quality_signoff")
    signed: list[tuple[Any, ...]] = []

    def rows() -> Iterator[tuple[Any, ...]]:
        pk = record_0
        for each in every:
            begun = now - timedelta(days=20)
            body = json.dumps({"order": "-", "drum": str(each.recipe.model), "revision": 1, "route": "-", "steps": []})
            yield (pk, each.pk, 1, "released", None, begun, begun, None, "office", "", body, None, "", f"{pk}")
            pk += 1
            for place in range(each.at):
                who, done = people[(each.pk + place) % len(people)], now - STEP * (each.at - place)
                step = each.first_step + place
                signed.append((sign_0 + len(signed), pk, step, 1, who.pk, done))
                body = json.dumps({"attempt": 1, "readings": [], "revision": 1, "note": "", "dwell_minutes": 0})
                yield (
                    *(pk, each.pk, place + 2, "signed", step, done, done, who.pk, who.name, f"tablet {place}"),
                    *(body, None, f"{pk - 1}", f"{pk}"),
                )
                pk += 1

    write(
        "routing_shellrecord",
        (
            *("id", "shell_id", "sequence", "kind", "operation_id", "at", "received_at", "person_id"),
            *("person_name", "device", "body", "tap_key", "previous_hash", "hash"),
        ),
        rows(),
    )
    write("quality_signoff", ("id", "record_id", "operation_id", "attempt", "person_id", "at"), iter(signed))


def _problems(held: list[_Open], now: datetime, people: list[Person]) -> None:
    first = next_key("quality_problem")
    write(
        "quality_problem",
        (
            *("id", "shell_id", "operation_id", "text", "found_by_id", "found_at", "state"),
            *("settlement", "disposition", "allowed_by"),
        ),
        (
            (
                *(first + n, each.pk, each.first_step + each.at, "Chip at the bearing edge", people[0].pk, now),
                *("open", "", "", ""),
            )
            for n, each in enumerate(held)
        ),
    )


def _plan(every: list[_Open], now: datetime) -> None:
    """Every step that is left, one after the other with its dwells, the shells at random over thirty days."""
    Plan.objects.filter(is_current=True).update(is_current=False)
    plan = Plan.objects.create(made_at=now, heard_at=now, state="ready", is_current=True, found_by="filled")
    first = next_key("routing_plannedstep")

    def rows() -> Iterator[tuple[Any, ...]]:
        pk = first
        for each in every:
            when = now + timedelta(minutes=(each.pk * 7919) % (20 * 1440))
            for place, step in enumerate(each.recipe.prepared.steps[each.at :], start=each.at):
                ends = when + timedelta(minutes=20)
                yield (pk, plan.pk, each.first_step + place, step.station.pk, when, ends, "", 0)
                when, pk = ends + timedelta(minutes=step.dwell_minutes + 30), pk + 1

    write(
        "routing_plannedstep",
        ("id", "plan_id", "operation_id", "station_id", "starts_at", "ends_at", "campaign", "campaign_number"),
        rows(),
    )
