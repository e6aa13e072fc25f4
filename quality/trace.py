"""The whole story of one drum, and the drums of an order, a customer's reference or a person.

Everything is read from the records and the frozen specs; nothing is computed again.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Any

from django.db.models import F, Q, QuerySet
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _

from quality.dispositions import concessions_of
from quality.models import MaterialUse, Person, Photo, SignOff
from quality.story_words import detail_of, late_words, material_words, title_of
from routing.languages import numeral
from routing.models import Operation, OperationState, RecordKind, Shell, ShellRecord, ShellSpec, StationKind
from routing.prepared import Prepared


@dataclass(frozen=True, slots=True)
class StoryReading:
    text: str
    value: float | None
    unit: str
    low: float | None
    high: float | None
    passed: bool
    words: str = ""  # of several readings, as they were shown to whoever signed

    @property
    def shown(self) -> str:
        if self.words:
            return self.words
        if self.value is None:
            return _("yes") if self.passed else _("no")
        return f"{numeral(self.value)} {self.unit}".strip()


@dataclass(frozen=True, slots=True)
class StoryMaterial:
    what: str  # what it was used as: “Lot of Birch 3.0”
    code: str
    name: str
    lot: int | None  # the page of the lot or of the glue batch, for those who may see it
    glue_batch: int | None

    @property
    def shown(self) -> str:
        return f"{self.code}, {self.name}" if self.name not in self.what else self.code


@dataclass(frozen=True, slots=True)
class StoryEvent:
    sequence: int
    kind: str
    title: str
    at: datetime
    received_at: datetime
    person: str
    device: str
    detail: str
    readings: tuple[StoryReading, ...]
    materials: tuple[StoryMaterial, ...]
    standing: bool  # False for a signature that was withdrawn or made void by rework
    photos: tuple[int, ...]  # of what was found
    late: str = ""  # “signed on paper …, entered … by …”; empty for what was signed at a tablet
    entered_by: str = ""
    void: str = ""  # why a signature no longer stands: “withdrawn later”, “sent back for rework”


@dataclass(frozen=True, slots=True)
class StoryConcession:
    """What a drum is used with although it is not as it should be."""

    found: str
    why: str
    allowed_by: str
    decided_by: str
    decided_at: datetime


@dataclass(frozen=True, slots=True)
class StoryStep:
    position: int
    title: str
    station: str
    state: str
    signed_by: str
    signed_at: datetime | None
    late: str = ""
    entered_by: str = ""


@dataclass(frozen=True, slots=True)
class StoryRevision:
    revision: int
    formula_version: str
    issued_at: datetime
    reason: str


@dataclass(frozen=True, slots=True)
class Story:
    serial: str
    drum: str
    role: str
    nominal_diameter_in: float
    nominal_depth_in: float
    finish: str
    order: str
    customer: str
    customer_reference: str
    due: date
    state: str
    final_check_by: str | None
    final_check_at: datetime | None
    replaces: str | None
    replaced_by: str | None
    steps: tuple[StoryStep, ...]
    events: tuple[StoryEvent, ...]
    revisions: tuple[StoryRevision, ...]
    concessions: tuple[StoryConcession, ...] = ()
    ordered_as: str = ""  # what the order asked for, of a drum that became another

    def as_json(self) -> dict[str, Any]:
        """The story as plain values: dates and times in ISO 8601."""
        plain: dict[str, Any] = _plain(asdict(self))
        return plain


# Asked of every drum whose number is called: put into SQL once.
_STEPS = Prepared(
    lambda shell: (
        Operation.objects.filter(shell=shell)
        .select_related("station")
        .only("shell", "position", "title", "state", "station__name", "station__kind")
        .order_by("position")
    )
)
_REVISIONS = Prepared(
    lambda shell: ShellSpec.objects.filter(shell=shell).defer("inputs", "results").order_by("revision")
)
_RECORDS = Prepared(
    lambda shell: (
        ShellRecord.objects.filter(shell=shell)
        .annotate(signed=F("sign_off"), taken_back=Coalesce("sign_off__withdrawal__pk", "sign_off__voiding__pk"))
        .order_by("sequence")
    )
)


def story_of(shell: Shell) -> Story:
    """Everything about one drum, in order and in the language that is spoken; what a program is given is made in English.
    ``shell`` should come with order, model, line and finish selected.

    Three queries, and one more for each that its records speak of: materials, photos, a concession.
    """
    operations = _STEPS.all(shell=shell.pk)
    records = _records(shell, operations)
    signatures = {record.operation_id: record for record in records if record.signed and not record.taken_back}
    final = max(
        (
            signatures[operation.pk]
            for operation in operations
            if operation.station.kind == StationKind.FINAL_CHECK
            and operation.state == OperationState.DONE
            and operation.pk in signatures
        ),
        key=lambda record: record.sequence,
        default=None,
    )
    concessions = concessions_of(shell) if any(record.body.get("allowed_by") for record in records) else ()
    return Story(
        serial=shell.serial,
        drum=str(shell.model),
        role=shell.model.get_role_display(),
        nominal_diameter_in=shell.model.nominal_diameter_in,
        nominal_depth_in=shell.model.nominal_depth_in,
        finish=shell.finish.name,
        order=shell.order.number,
        customer=shell.order.customer,
        customer_reference=shell.order.customer_reference,
        due=shell.order.due,
        state=_(shell.get_state_display()),
        final_check_by=final.person_name if final else None,
        final_check_at=final.at if final else None,
        replaces=_said(records, RecordKind.RELEASED, "replaces"),
        replaced_by=_said(records, RecordKind.SCRAPPED, "replaced_by"),
        steps=tuple(_step(operation, signatures.get(operation.pk)) for operation in operations),
        events=_events(records),
        revisions=tuple(
            StoryRevision(spec.revision, spec.formula_version, spec.issued_at, spec.reason)
            for spec in _REVISIONS.all(shell=shell.pk)
        ),
        concessions=tuple(
            StoryConcession(
                problem.text,
                problem.settlement,
                problem.allowed_by,
                problem.settled_by.name if problem.settled_by else "",
                problem.settled_at or problem.found_at,
            )
            for problem in concessions
        ),
        ordered_as=_ordered_as(shell),
    )


def _records(shell: Shell, operations: list[Operation]) -> list[Any]:
    """The shell's chain; of each signature its row, too, and whether it was taken back or made void."""
    records: list[Any] = _RECORDS.all(shell=shell.pk)
    steps = {operation.pk: operation for operation in operations}
    for record in records:
        if record.operation_id in steps:
            record.operation = steps[record.operation_id]
    return records


def _said(records: list[Any], kind: RecordKind, name: str) -> str | None:
    """What the last record of a kind says under a name."""
    return next((record.body.get(name) for record in reversed(records) if record.kind == kind), None)


def _ordered_as(shell: Shell) -> str:
    line = shell.line
    same = (line.model_id, line.finish_id) == (shell.model_id, shell.finish_id)
    return "" if same else f"{line.model}, {line.finish}"


def find_shells(words: str) -> QuerySet[Shell]:
    """Drums whose order number, customer, customer's reference or serial number fits ``words``; newest first."""
    text = words.strip()
    return (
        Shell.objects.filter(
            Q(order__number__iexact=text)
            | Q(order__customer_reference__iexact=text)
            | Q(order__customer__icontains=text)
            | Q(serial__istartswith=text)
        )
        .select_related("order", "model__line", "finish")
        .order_by("-pk")
    )


def signed_by(person: Person) -> QuerySet[SignOff]:
    """What a person signed and did not withdraw, newest first."""
    return (
        SignOff.objects.standing()
        .filter(person=person)
        .select_related("operation__shell__order", "operation__shell__model__line", "operation__station")
        .order_by("-at")
    )


def _step(operation: Operation, signature: ShellRecord | None) -> StoryStep:
    signed = signature if operation.state == OperationState.DONE else None
    return StoryStep(
        operation.position,
        operation.title,
        operation.station.name,
        _(operation.get_state_display()),
        signed.person_name if signed else "",
        signed.at if signed else None,
        late_words(signed) if signed else "",
        _entered_by(signed) if signed else "",
    )


def _events(records: list[Any]) -> tuple[StoryEvent, ...]:
    void = {
        record.body["withdraws_sequence"]: _("withdrawn later")
        for record in records
        if record.kind == RecordKind.WITHDRAWN
    }
    for record in records:
        if record.kind == RecordKind.REWORK:
            void |= dict.fromkeys(record.body["voids_sequences"], _(record.get_kind_display()))
    signed = {record.signed: record.pk for record in records if record.signed}
    used: dict[tuple[int, str], tuple[int | None, int | None]] = {}
    if any(_materials(record) for record in records):
        for sign_off, lot, batch, lot_code, batch_code in MaterialUse.objects.filter(
            sign_off__in=list(signed)
        ).values_list("sign_off", "lot", "glue_batch", "lot__code", "glue_batch__code"):
            used[signed[sign_off], lot_code or batch_code or ""] = lot, batch
    photos: dict[str, int] = {}
    if shown := {sha256 for record in records for sha256 in record.body.get("photos", ())}:
        problems = {record.body["problem"] for record in records if "problem" in record.body}
        of_shell = Q(problem__in=problems) | Q(sign_off__in=list(signed))
        photos |= dict(Photo.objects.filter(of_shell, sha256__in=shown).order_by("pk").values_list("sha256", "pk"))
    return tuple(
        _event(
            record,
            void.get(record.sequence, ""),
            used,
            tuple(photos[sha256] for sha256 in record.body.get("photos", ()) if sha256 in photos),
        )
        for record in records
    )


def _event(
    record: ShellRecord,
    void: str,
    used: dict[tuple[int, str], tuple[int | None, int | None]],
    photos: tuple[int, ...],
) -> StoryEvent:
    return StoryEvent(
        sequence=record.sequence,
        kind=record.kind,
        title=title_of(record),
        at=record.at,
        received_at=record.received_at,
        person=record.person_name,
        device=record.device,
        detail=detail_of(record),
        readings=tuple(
            StoryReading(
                reading["text"],
                reading["value"],
                reading["unit"],
                reading["low"],
                reading["high"],
                reading["passed"],
                reading.get("shown", ""),
            )
            for reading in record.body.get("readings", [])
        ),
        materials=tuple(
            _material(entry, *used.get((record.pk, entry["code"]), (None, None))) for entry in _materials(record)
        ),
        standing=not void,
        void=void,
        photos=photos,
        late=late_words(record),
        entered_by=_entered_by(record),
    )


def _entered_by(record: ShellRecord) -> str:
    return str(record.body.get("late", {}).get("entered_by", ""))


def _materials(record: ShellRecord) -> list[dict[str, str]]:
    found: list[dict[str, str]] = record.body.get("materials", [])
    return found


def _material(entry: dict[str, str], lot: int | None, glue_batch: int | None) -> StoryMaterial:
    return StoryMaterial(material_words(entry["for"]), entry["code"], entry["name"], lot, glue_batch)


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item) for item in value]
    if isinstance(value, date | datetime):
        return value.isoformat()
    return value
