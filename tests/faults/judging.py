"""After the breaking: what the tablets were told, held against what the database says. Past the program, in plain SQL."""

from __future__ import annotations

import json
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

from tests.faults.tablets import Tap
from tests.places import Place


@dataclass(frozen=True, slots=True)
class Verdict:
    acknowledged: int
    found: int  # of those, on record once and whole
    refused: int
    unanswered: int
    unanswered_found: int  # there, wholly, though nobody was told
    chains: int
    records: int
    wrong: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Written:
    """One tap as the tables have it."""

    kind: str
    serial: str
    body: dict[str, Any]
    sign_offs: int
    withdrawals: int
    readings: list[float]


def judge(place: Place, taps: Iterable[Tap]) -> Verdict:
    written = _written(place)
    every = list(taps)
    wrong = list(_wrong(every, written))
    sent = {tap.key for tap in every}
    wrong += [f"tap {key} is on record and was never made" for key in written if key not in sent]
    acknowledged = [tap for tap in every if tap.answer == "ok"]
    unanswered = [tap for tap in every if not tap.answer]
    said = place.manage("verify_records")
    chains = re.search(r"(\d+) chains with (\d+) records hold", said.stdout)
    if said.returncode or not chains:
        wrong.append(f"verify_records: {said.stderr.strip() or said.stdout.strip()}")
    return Verdict(
        acknowledged=len(acknowledged),
        found=sum(not list(_wrong([tap], written)) for tap in acknowledged),
        refused=sum(tap.answer == "refused" for tap in every),
        unanswered=len(unanswered),
        unanswered_found=sum(tap.key in written for tap in unanswered),
        chains=int(chains[1]) if chains else 0,
        records=int(chains[2]) if chains else 0,
        wrong=tuple(wrong),
    )


def _wrong(taps: Iterable[Tap], written: dict[str, list[Written]]) -> Iterator[str]:
    for tap in taps:
        found = written.get(tap.key, [])
        if tap.answer == "ok" and len(found) != 1:
            yield f"tap {tap.key} was acknowledged and is on record {len(found)} times"
        elif tap.answer == "refused" and found:
            yield f"tap {tap.key} was refused and is on record"
        elif len(found) > 1:
            yield f"tap {tap.key} is on record {len(found)} times"
        elif found and (what := _not_whole(tap, found[0])):
            yield f"tap {tap.key} is on record by half or as something else: {what}"


def _not_whole(tap: Tap, row: Written) -> str:
    if (row.kind, row.serial) != (tap.kind, tap.serial):
        return f"{row.kind} {row.serial} instead of {tap.kind} {tap.serial}"
    if tap.kind == "withdrawn":
        return "" if row.body["reason"] == tap.key and row.withdrawals == 1 else "its withdrawal"
    if row.body["note"] != tap.key or row.sign_offs != 1:
        return "its signature"
    if [entry["value"] for entry in row.body["readings"]] != tap.values or row.readings != tap.values:
        return "its readings"
    return "" if len(row.body.get("photos", [])) == bool(tap.photo) else "its photo"


def _written(place: Place) -> dict[str, list[Written]]:
    readings: dict[int, list[float]] = defaultdict(list)
    for record, value in place.rows(
        "SELECT s.record_id, r.value FROM quality_reading r JOIN quality_signoff s ON s.id = r.sign_off_id ORDER BY r.id"
    ):
        readings[record].append(value)
    found: dict[str, list[Written]] = defaultdict(list)
    for pk, key, kind, serial, body, sign_offs, withdrawals in place.rows(
        "SELECT c.id, c.tap_key, c.kind, h.serial, c.body, "
        "(SELECT COUNT(*) FROM quality_signoff s WHERE s.record_id = c.id), "
        "(SELECT COUNT(*) FROM quality_withdrawal w WHERE w.record_id = c.id) "
        "FROM routing_shellrecord c JOIN routing_shell h ON h.id = c.shell_id WHERE c.tap_key IS NOT NULL"
    ):
        said = json.loads(body) if isinstance(body, str) else body
        found[key].append(Written(kind, serial, said, sign_offs, withdrawals, readings[pk]))
    return found
