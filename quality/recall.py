"""Which drums: by lot, glue batch, person, tablet, or station and days. Each answer is one query that finds its
records by an index; the shells come with the records that say so.

Signatures that were withdrawn or made void by rework count: the work was done and the material used all the same.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import groupby
from typing import Any

from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from quality.made_here import lots_with
from quality.models import GlueBatch, MaterialLot, MaterialUse, Person
from routing.models import OrderState, RecordKind, Shell, ShellRecord, Station
from routing.prepared import Prepared

_ABOUT_SHELL = ("shell__order", "shell__model__line", "shell__finish")
_READ = (
    *("shell", "sequence", "kind", "at", "person_name", "device", "operation__title"),
    *("shell__serial", "shell__state", "shell__order__number", "shell__order__customer", "shell__order__state"),
    *("shell__model__nominal_diameter_in", "shell__model__nominal_depth_in", "shell__model__role"),
    *("shell__model__line__name", "shell__finish__name"),
)


@dataclass(frozen=True, slots=True)
class Days:
    """From one day to another, both included; open at an end that is None."""

    first: date | None = None
    last: date | None = None

    def limits(self, at: str) -> Q:
        """For a field with a time, by the shop's clock."""
        zone = timezone.get_current_timezone()
        limits = Q()
        if self.first is not None:
            limits &= Q(**{f"{at}__gte": datetime.combine(self.first, time.min, zone)})
        if self.last is not None:
            limits &= Q(**{f"{at}__lt": datetime.combine(self.last + timedelta(days=1), time.min, zone)})
        return limits


ALWAYS = Days()


@dataclass(frozen=True, slots=True)
class FoundStep:
    title: str
    at: datetime
    person: str
    device: str
    void: str  # why its signature no longer stands, in English; empty for one that does


@dataclass(frozen=True, slots=True)
class FoundShell:
    pk: int
    serial: str
    drum: str
    order: str
    customer: str
    state: str
    steps: tuple[FoundStep, ...]

    @property
    def first_at(self) -> datetime:
        return self.steps[0].at

    @property
    def last_at(self) -> datetime:
        return self.steps[-1].at

    @property
    def people(self) -> str:
        return ", ".join(dict.fromkeys(step.person for step in self.steps))

    @property
    def titles(self) -> str:
        return ", ".join(dict.fromkeys(step.title + (f" ({_(step.void)})" if step.void else "") for step in self.steps))

    @property
    def devices(self) -> str:
        return ", ".join(dict.fromkeys(step.device for step in self.steps if step.device))


def by_lot(lot: MaterialLot, days: Days = ALWAYS) -> list[FoundShell]:
    """The drums that a lot is in, also through the glue mixed from it and the lots made here with it."""
    # The uses first, by their own indexes: asked for all at once, PostgreSQL takes them for many and reads whole tables.
    ways = Q(lot__in=[lot.pk, *lots_with(lot)]), Q(glue_batch__in=lot.in_batches.order_by().values("batch"))
    uses = [pk for way in ways for pk in MaterialUse.objects.filter(way).order_by().values_list("pk", flat=True)]
    return _used(Q(pk__in=uses), days)


def by_glue_batch(batch: GlueBatch, days: Days = ALWAYS) -> list[FoundShell]:
    return _by_use(_OF_BATCH.all(batch=batch.pk)) if days == ALWAYS else _used(Q(glue_batch=batch), days)


def by_person(person: Person, days: Days = ALWAYS) -> list[FoundShell]:
    """The drums at which somebody signed."""
    return _signed(days.limits("at"), person=person)


def by_tablet(device: str, days: Days = ALWAYS) -> list[FoundShell]:
    """The drums that were signed at a tablet, by the name it had then."""
    return _signed(days.limits("at"), device=device)


def by_station(station: Station, days: Days) -> list[FoundShell]:
    """The drums that were signed at a station on some days."""
    return _signed(days.limits("at"), operation__station=station)


def _signed(limits: Q, **which: Any) -> list[FoundShell]:
    records = ShellRecord.objects.filter(limits, kind=RecordKind.SIGNED, **which).select_related(
        *_ABOUT_SHELL, "operation", "sign_off__withdrawal", "sign_off__voiding"
    )
    records = records.only(*_READ, "sign_off__record", "sign_off__withdrawal__sign_off", "sign_off__voiding__sign_off")
    return _grouped(records)


def _used(which: Q, days: Days) -> list[FoundShell]:
    return _by_use(_uses(which & days.limits("sign_off__record__at")))


def _uses(which: Q) -> QuerySet[MaterialUse]:
    """From the uses to the records, not the other way round: of so many tables PostgreSQL joins the first ones first."""
    uses = MaterialUse.objects.filter(which).select_related(
        "sign_off__record__operation",
        "sign_off__withdrawal",
        "sign_off__voiding",
        *(f"sign_off__record__{name}" for name in _ABOUT_SHELL),
    )
    return uses.only(
        *("sign_off__record", "sign_off__withdrawal__sign_off", "sign_off__voiding__sign_off"),
        *(f"sign_off__record__{name}" for name in _READ),
    )


# What a mix is in is asked when it was bad, by whoever stands at the press: put into SQL once.
_OF_BATCH = Prepared(lambda batch: _uses(Q(glue_batch=batch)))


def _by_use(uses: Iterable[MaterialUse]) -> list[FoundShell]:
    return _grouped({use.sign_off.record_id: _record_of(use) for use in uses}.values())


def _record_of(use: MaterialUse) -> ShellRecord:
    record = use.sign_off.record
    record.sign_off = use.sign_off
    return record


def _grouped(records: Iterable[ShellRecord]) -> list[FoundShell]:
    ordered = sorted(records, key=lambda record: (record.shell.serial, record.sequence))
    return [_found(list(group)) for _shell, group in groupby(ordered, key=lambda record: record.shell_id)]


def _found(records: list[ShellRecord]) -> FoundShell:
    shell = records[0].shell
    return FoundShell(
        pk=shell.pk,
        serial=shell.serial,
        drum=shell.drum,
        order=shell.order.number,
        customer=shell.order.customer,
        state=state_words(shell),
        steps=tuple(_steps(records)),
    )


def _steps(records: Iterable[ShellRecord]) -> Iterable[FoundStep]:
    for record in records:
        yield FoundStep(
            title=record.operation.title if record.operation else record.get_kind_display(),
            at=record.at,
            person=record.person_name,
            device=record.device,
            void=_void(record),
        )


def _void(record: ShellRecord) -> str:
    signed = getattr(record, "sign_off", None)
    if hasattr(signed, "withdrawal"):
        return gettext_noop("withdrawn")
    return gettext_noop("void after rework") if hasattr(signed, "voiding") else ""


def state_words(shell: Shell) -> str:
    """Where a shell is now, in English; of a packed one, whether it was shipped."""
    gone = shell.state == "packed" and shell.order.state == OrderState.SHIPPED
    return "shipped" if gone else shell.get_state_display()
