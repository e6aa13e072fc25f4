"""The seal of a day: one line that joins every chain on which something was written that day, and the seal before.

Printed each morning and put away, it shows later that no chain was written anew from some point on: whoever did that
would have to make every seal since then again, and the printed ones would not agree. It also covers the lists beside the
chains: changes of lots, glue mixed here, holds, and signatures under lots made here.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from time import sleep

from django.db import OperationalError, connection
from django.db.models import Min, Model
from django.utils import timezone
from django.utils.translation import gettext as _

from quality.models import DaySeal, GlueBatch, GlueBatchPart, HeldShell, LotChange, LotHold, LotSignOff
from routing.errors import LostRace
from routing.models import ShellRecord
from routing.turnstile import writing

# Lists that no chain covers: what happened to lots, what was mixed, which drums a bad lot held. Fields that change stay out.
BESIDE: dict[type[Model], tuple[str, ...]] = {
    LotChange: ("lot_id", "lot__code", "lot__kind", "lot__name", "state", "at", "person_id", "person_name", "reason"),
    GlueBatch: ("code", "glue_id", "mixed_by_id", "mixed_at", "temperature_c", "pot_life_min", "use_until"),
    GlueBatchPart: ("batch_id", "position", "name", "mass_g", "lot_id"),
    LotHold: ("lot_id", "glue_batch_id", "reason", "at", "person_id", "person_name"),
    HeldShell: ("hold_id", "shell_id", "outcome", "state_then", "problem_id", "record_id"),
    LotSignOff: ("made_id", "step_id", "hash"),
}

TRIES, PAUSE_S = 40, 0.25


class _Busy(Exception):
    """Somebody writes to one of the lists at this moment."""


@dataclass(frozen=True, slots=True)
class BrokenSeal:
    day: date
    what: str


@dataclass(frozen=True, slots=True)
class _Joined:
    shells: int
    records: int
    hash: str


def seal_days(*, now: datetime) -> list[DaySeal]:
    """Seal every day that is over and not sealed yet, from the first record on, days without a record too.

    A day belongs to the time the server took a record in, by the shop's clock; that can't be set on a tablet. Run twice,
    the second time adds nothing. LostRace when somebody keeps writing to a list for some seconds, or seals just now.
    """
    for _try in range(TRIES):
        try:
            return _seal(now)
        except _Busy:
            sleep(PAUSE_S)
    raise LostRace("busy", _("Somebody is writing just now; nothing was sealed. Try again in a minute."))


def _seal(now: datetime) -> list[DaySeal]:
    made: list[DaySeal] = []
    with writing():
        _keep_others_out()
        newest = DaySeal.objects.order_by("day").last()
        day = newest.day + timedelta(days=1) if newest else _first_day()
        begins = newest.ends_at if newest else None
        previous = newest.hash if newest else ""
        covered = newest.through if newest else {}
        through = _last_rows()
        while day is not None and day < timezone.localdate(now):
            seal = DaySeal(
                day=day,
                begins_at=begins or _midnight(day),
                ends_at=_midnight(day + timedelta(days=1)),
                through=through,
            )
            joined = _join(seal, previous, covered)
            seal.sealed_at, seal.previous_hash = now, previous
            seal.shells, seal.records, seal.hash = joined.shells, joined.records, joined.hash
            made.append(seal)
            previous, begins, covered = seal.hash, seal.ends_at, through
            day += timedelta(days=1)
        DaySeal.objects.bulk_create(made)
    return made


def broken_seals() -> Iterator[BrokenSeal]:
    """Everything that does not agree with the seals, first day first; nothing when all hold."""
    before: DaySeal | None = None
    for seal in DaySeal.objects.order_by("day"):
        if before is None:
            earlier = ShellRecord.objects.filter(received_at__lt=seal.begins_at).exists()
            if earlier or seal.previous_hash:
                yield BrokenSeal(seal.day, _("seals before it are missing"))
        elif seal.day != before.day + timedelta(days=1) or seal.begins_at != before.ends_at:
            yield BrokenSeal(before.day + timedelta(days=1), _("its seal is missing"))
        elif seal.previous_hash != before.hash:
            yield BrokenSeal(seal.day, _("its seal does not follow from the one before"))
        joined = _join(seal, seal.previous_hash, before.through if before else {})
        if joined.hash != seal.hash:
            yield BrokenSeal(seal.day, _("what was written that day is not what was sealed"))
        elif (joined.shells, joined.records) != (seal.shells, seal.records):
            yield BrokenSeal(seal.day, _("its seal counts other chains or records"))
        before = seal


def printed_line(seal: DaySeal) -> str:
    """What is printed: the day, how much it joins, and the whole hash in groups that can be read aloud."""
    return f"{seal.day} · {seal.shells} chains, {seal.records} records · {in_groups(seal.hash)}"


def in_groups(hash_: str) -> str:
    return " ".join(hash_[place : place + 8] for place in range(0, len(hash_), 8))


def days_to_seal(*, now: datetime) -> int:
    """How many days are over and not sealed yet."""
    newest = DaySeal.objects.order_by("day").last()
    first = newest.day + timedelta(days=1) if newest else _first_day()
    return max(0, (timezone.localdate(now) - first).days) if first else 0


def _first_day() -> date | None:
    first = ShellRecord.objects.aggregate(first=Min("received_at"))["first"]
    return timezone.localdate(first) if first else None


def _midnight(day: date) -> datetime:
    return timezone.make_aware(datetime.combine(day, time.min)).astimezone(UTC)


def _keep_others_out() -> None:
    """On PostgreSQL: wait for nobody, so that no tap is ever the victim of a deadlock with a seal; raise _Busy instead.

    On SQLite the transaction alone keeps other writers out.
    """
    if connection.vendor != "postgresql":
        return
    beside = ", ".join(model._meta.db_table for model in BESIDE)
    try:
        with connection.cursor() as cursor:
            cursor.execute(f"LOCK TABLE {DaySeal._meta.db_table} IN EXCLUSIVE MODE NOWAIT")
            cursor.execute(f"LOCK TABLE {beside} IN SHARE MODE NOWAIT")
    except OperationalError as error:
        raise _Busy from error


def _last_rows() -> dict[str, int]:
    """The newest row of each list. Only while nobody is in the middle of adding to one."""
    return {
        model._meta.db_table: model._default_manager.order_by("-pk").values_list("pk", flat=True).first() or 0
        for model in BESIDE
    }


def _rows_beside(after: Mapping[str, int], through: Mapping[str, int]) -> Iterator[str]:
    """One line for each row of the lists that this seal covers, every field that never changes."""
    for model, fields in BESIDE.items():
        table = model._meta.db_table
        rows = model._default_manager.filter(pk__gt=after.get(table, 0), pk__lte=through.get(table, 0))
        for row in rows.order_by("pk").values_list("pk", *fields).iterator(chunk_size=2000):
            yield f"{table} {json.dumps([_plain(value) for value in row], ensure_ascii=True)}\n"


def _plain(value: object) -> object:
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    return value.isoformat() if isinstance(value, date) else value


def _join(seal: DaySeal, previous: str, covered: Mapping[str, int]) -> _Joined:
    """Hash over the day, the seal before, each shell's last record of that day by serial number, and the lists beside."""
    of_day = ShellRecord.objects.filter(received_at__gte=seal.begins_at, received_at__lt=seal.ends_at)
    tips: dict[str, tuple[int, str]] = {}
    records = 0
    rows = of_day.order_by("sequence").values_list("shell__serial", "sequence", "hash")
    for serial, sequence, tip in rows.iterator(chunk_size=2000):
        tips[serial] = (sequence, tip)
        records += 1
    span = f"{seal.begins_at.astimezone(UTC).isoformat()} {seal.ends_at.astimezone(UTC).isoformat()}"
    digest = hashlib.sha256(f"{seal.day.isoformat()} {span}\n{previous}\n".encode())
    for serial in sorted(tips):
        digest.update(f"{serial} {tips[serial][0]} {tips[serial][1]}\n".encode())
    for line in _rows_beside(covered, seal.through):
        digest.update(line.encode())
    return _Joined(len(tips), records, digest.hexdigest())
