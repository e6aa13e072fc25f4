"""The as-built certificate of a drum: what it is, who signed each step, every reading with its limits, and what it was made of.

Read from the records and the frozen spec; nothing is computed again. A drum has one from its final check on, unless it
is on hold, scrapped, or its record does not hold.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from quality.actions import final_check_of
from quality.checks import limits_words
from quality.models import Problem, ProblemState, SignOff
from quality.recall import state_words
from quality.story_words import late_words
from quality.verification import verify_shell
from routing.errors import NotAllowedNow
from routing.frozen import current_spec
from routing.languages import numeral
from routing.models import Operation, OperationState, Shell, ShellRecord, ShellState

_NONE = (ShellState.ON_HOLD, ShellState.SCRAPPED, ShellState.REMADE)


@dataclass(frozen=True, slots=True)
class CertifiedReading:
    text: str
    value: str
    limits: str  # “139.3 … 140.1 mm”, “at most 0.4 mm”; empty for what is only looked at


@dataclass(frozen=True, slots=True)
class CertifiedStep:
    position: int
    title: str
    signed_by: str
    signed_at: datetime | None
    state: str  # for a step nobody signed, in English: skipped, ready
    note: str
    late: str
    readings: tuple[CertifiedReading, ...]
    materials: tuple[tuple[str, str, str], ...]  # what for, code, name
    photos: int  # on record with this signature
    not_sampled: int  # checks that only every so many drums have


@dataclass(frozen=True, slots=True)
class SettledProblem:
    found: str
    found_at_step: str
    found_by: str
    found_at: datetime
    decided: str
    why: str
    allowed_by: str
    decided_by: str
    decided_at: datetime | None


@dataclass(frozen=True, slots=True)
class Certificate:
    serial: str
    drum: str
    finish: str
    order: str
    customer: str
    customer_reference: str
    state: str  # in English, as what was decided of a problem
    replaces: str
    facts: tuple[tuple[str, str], ...]
    checked_by: str
    checked_at: datetime
    steps: tuple[CertifiedStep, ...]
    problems: tuple[SettledProblem, ...]
    revision: int
    formula_version: str
    issued_at: datetime
    records: int
    fingerprint: str


def certificate_of(shell: Shell) -> Certificate:
    """Raises NotAllowedNow, with a sentence, for a drum that has none."""
    final = final_check_of(shell)
    if shell.state in _NONE:
        raise NotAllowedNow(
            "no_certificate",
            _("{serial} is {state}; there is no certificate of it.").format(
                serial=shell.serial, state=_(shell.get_state_display())
            ),
        )
    if final is None:
        raise NotAllowedNow(
            "not_checked",
            _("{serial} has no final check yet; its certificate comes after that.").format(serial=shell.serial),
        )
    if any(verify_shell(shell)):
        raise NotAllowedNow(
            "record_broken",
            _("The record of {serial} does not hold; call whoever looks after the computer.").format(
                serial=shell.serial
            ),
        )
    spec = current_spec(shell)
    return Certificate(
        serial=shell.serial,
        drum=str(shell.model),
        finish=shell.finish.name,
        order=shell.order.number,
        customer=shell.order.customer,
        customer_reference=shell.order.customer_reference,
        state=state_words(shell),
        replaces=shell.replaces.serial if shell.replaces else "",
        facts=tuple(_facts(spec.inputs, spec.results)),
        checked_by=final.record.person_name,
        checked_at=final.at,
        steps=_steps(shell),
        problems=_problems(shell),
        revision=spec.revision,
        formula_version=spec.formula_version,
        issued_at=spec.issued_at,
        records=shell.chain_length,
        fingerprint=fingerprint(shell.chain_head),
    )


def fingerprint(chain_head: str) -> str:
    """The first 16 figures of the last record's hash, in fours: short enough to compare by eye."""
    return " ".join(chain_head[at : at + 4] for at in range(0, 16, 4))


def _facts(inputs: dict[str, Any], results: dict[str, Any]) -> list[tuple[str, str]]:
    """What the spec says of the drum. Rounded here, where it is shown."""
    shell = results["shell"]
    plates = [f"{plate['name']} ({plate['species']['name']})" for plate in inputs["plates"]]
    stack = [(name, len(list(alike))) for name, alike in groupby(plates)]
    wall = ngettext("{wall} mm, {plates} plate", "{wall} mm, {plates} plates", len(plates))
    return [
        (_("Nominal size"), f"{shell['nominal_diameter_in']:g} × {shell['nominal_depth_in']:g} in"),
        (_("Outside diameter"), f"{numeral(shell['outside_diameter_mm'], '.1f')} mm"),
        (_("Depth"), f"{numeral(shell['depth_mm'], '.1f')} mm"),
        (_("Wall"), wall.format(wall=numeral(shell["wall_mm"], ".1f"), plates=len(plates))),
        (_("Plates, outside first"), "; ".join(f"{many} × {name}" if many > 1 else name for name, many in stack)),
        (_("Bearing edges"), _edges(inputs["batter_edge"]["name"], inputs["resonant_edge"]["name"])),
        (_("Glue"), inputs["glue"]["name"]),
        (_("Hardware"), inputs["hardware"]["name"]),
    ]


def _edges(batter: str, resonant: str) -> str:
    return batter if batter == resonant else _("{batter} and {resonant}").format(batter=batter, resonant=resonant)


def _steps(shell: Shell) -> tuple[CertifiedStep, ...]:
    standing = {
        signed.operation_id: signed.record
        for signed in SignOff.objects.standing().filter(operation__shell=shell).select_related("record")
    }
    operations = Operation.objects.filter(shell=shell).order_by("position")
    return tuple(
        _step(operation, standing.get(operation.pk) if operation.state == OperationState.DONE else None)
        for operation in operations
    )


def _step(operation: Operation, record: ShellRecord | None) -> CertifiedStep:
    body = record.body if record else {}
    return CertifiedStep(
        position=operation.position,
        title=operation.title,
        signed_by=record.person_name if record else "",
        signed_at=record.at if record else None,
        state="" if record else operation.get_state_display(),
        note=body.get("note", ""),
        late=late_words(record) if record else "",
        readings=tuple(_reading(entry) for entry in body.get("readings", [])),
        materials=tuple((entry["for"], entry["code"], entry["name"]) for entry in body.get("materials", [])),
        photos=len(body.get("photos", [])),
        not_sampled=len(body.get("not_sampled", [])),
    )


def _reading(entry: dict[str, Any]) -> CertifiedReading:
    unit = f" {entry['unit']}" if entry["unit"] else ""
    if entry["value"] is None:
        return CertifiedReading(entry["text"], _("yes") if entry["passed"] else _("no"), "")
    shown = entry.get("shown") or f"{numeral(entry['value'])}{unit}"
    least, most = ("" if entry[side] is None else numeral(entry[side], ".6g") for side in ("low", "high"))
    return CertifiedReading(entry["text"], shown, limits_words(least, most, entry["unit"]))


def _problems(shell: Shell) -> tuple[SettledProblem, ...]:
    problems = Problem.objects.filter(shell=shell, state=ProblemState.SETTLED).order_by("settled_at", "pk")
    return tuple(
        SettledProblem(
            found=problem.text,
            found_at_step=problem.operation.title,
            found_by=problem.found_by.name,
            found_at=problem.found_at,
            decided=problem.get_disposition_display(),
            why=problem.settlement,
            allowed_by=problem.allowed_by,
            decided_by=problem.settled_by.name if problem.settled_by else "",
            decided_at=problem.settled_at,
        )
        for problem in problems.select_related("operation", "found_by", "settled_by")
    )
