"""Cutting plans that are asked for, for tests of what they say and of how they are made."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.test import Client
from django.utils import timezone

from routing.models import CuttingJob
from shopfloor.cutting import background

PLAN = "/cutting/"
NUMBERS = {"kerf_mm": "3.2", "seconds": "5"}


@pytest.fixture
def begun(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """The plans that were begun; nothing makes them before the test says so."""
    numbers: list[int] = []
    monkeypatch.setattr(background, "start", numbers.append)
    return numbers


@pytest.fixture
def ask(office: Client, begun: list[int], django_capture_on_commit_callbacks: Any) -> Callable[..., Any]:
    def send(**fields: Any) -> Any:
        with django_capture_on_commit_callbacks(execute=True):
            return office.post(PLAN, NUMBERS | fields)

    return send


def text(answer: Any) -> str:
    return str(answer.content.decode())


def running_job(**fields: Any) -> CuttingJob:
    now = timezone.now()
    given: dict[str, Any] = {
        "asked": {"orders": [], "due_by": "", "kerf_mm": 3.2, "seconds": 5.0},
        "progress": {},
        "started_at": now,
        "started_by": "Sam",
        "heard_at": now,
    }
    return CuttingJob.objects.create(**given | fields)
