"""Whom the planner may count on: people who work here, with the stations they are qualified at today."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date

from quality.models import Person, Qualification
from quality.rights import Right, has_right
from routing.models import StationKind
from routing.plan_problem import PlanPerson

SOON_DAYS = 14


def people_to_plan(today: date) -> list[PlanPerson]:
    """In two queries. A qualification that ends soon counts as if it were renewed; :func:`ending_soon` names it."""
    stations: dict[int, set[str]] = defaultdict(set)
    for qualification in Qualification.objects.filter(person__is_active=True).select_related("station", "person"):
        checks = qualification.station.kind == StationKind.FINAL_CHECK
        if qualification.holds_on(today) and (not checks or has_right(qualification.person, Right.SIGN_FINAL_CHECK)):
            stations[qualification.person_id].add(qualification.station.code)
    return [
        PlanPerson(person.pk, person.name, frozenset(stations.get(person.pk, ())))
        for person in Person.objects.filter(is_active=True)
        if has_right(person, Right.SIGN_STEPS)
    ]


def ending_soon(today: date) -> Sequence[str]:
    """Sentences about qualifications that end within two weeks, on which a plan counts."""
    rows = Qualification.objects.filter(person__is_active=True, valid_to__gte=today).select_related("person", "station")
    return [
        f"{row.person.name}'s qualification for {row.station.name} ends on {row.valid_to}; the plan counts on its renewal."
        for row in rows
        if row.valid_to and (row.valid_to - today).days <= SOON_DAYS
    ]
