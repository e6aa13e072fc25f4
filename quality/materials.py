"""Which materials a step asks for, and what was given: plates, glue, coatings, wrap, hardware, heads.

Nobody has to keep lots: every field may stay empty. Only the glue batch at the press is asked for, and only as long as
the shop mixes that glue in batches: from the first batch of a day on, or while one can still be used.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Q, QuerySet
from django.utils import timezone
from django.utils.text import slugify
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from quality.errors import ReadingRefused
from quality.models import GlueBatch, LotKind, LotState, MaterialLot
from quality.models.materials import lot_code
from routing.languages import day, moment
from routing.models import Glue, Operation, Plate, StationKind, WrapSheet
from routing.specs.inputs import Role

GLUE_BATCH = "glue_batch"
LOT_OF, LOT_FOR = gettext_noop("Lot of {name}"), gettext_noop("Lot for {name}")
LONGEST_POT_LIFE = timedelta(days=30)  # no glue of the recipe book keeps longer, even in a cold room
IN_STOCK = (LotState.RECEIVED, LotState.OPEN)


@dataclass(frozen=True, slots=True)
class MaterialWanted:
    """One kind of material that a step records. ``kind`` is a kind of lot, or ``GLUE_BATCH``."""

    key: str
    kind: str
    said: str  # how it is asked for, in English, with a place for ``named``
    name: str = ""  # what the recipe calls it
    named: str = ""
    required: bool = False
    glue: Glue | None = None  # the glue of the lay-up, for a batch

    @property
    def is_batch(self) -> bool:
        return self.kind == GLUE_BATCH

    @property
    def label(self) -> str:
        """As the record has it, in English."""
        return self.said.format(name=self.named)

    @property
    def asked_for(self) -> str:
        """The same in the language of the tablet."""
        return _(self.said).format(name=self.named)


@dataclass(frozen=True, slots=True)
class MaterialUsed:
    """What was given for one ``wanted``: a lot or a glue batch."""

    wanted: MaterialWanted
    lot: MaterialLot | None = None
    glue_batch: GlueBatch | None = None

    @property
    def code(self) -> str:
        return self.lot.code if self.lot else self.glue_batch.code if self.glue_batch else ""

    @property
    def name(self) -> str:
        return self.lot.name if self.lot else self.glue_batch.glue.name if self.glue_batch else ""

    @property
    def body(self) -> dict[str, str]:
        """As it stands in the shell's record."""
        return {"for": self.wanted.label, "kind": self.wanted.kind, "code": self.code, "name": self.name}


def materials_wanted(
    operation: Operation, results: Mapping[str, Any], inputs: Mapping[str, Any], *, at: datetime
) -> tuple[MaterialWanted, ...]:
    """What the station of a step records, by this drum's frozen spec. ``operation.station`` and its shell are read."""
    return tuple(_wanted(operation, results, inputs, at))


def _wanted(
    operation: Operation, results: Mapping[str, Any], inputs: Mapping[str, Any], at: datetime
) -> Iterator[MaterialWanted]:
    match operation.station.kind:
        case StationKind.CUT:
            names = dict.fromkeys(plate["name"] for plate in inputs["plates"])
            for name in names:
                # The same plate has the same key in every drum, so that one answer does for a whole rack.
                key = f"plate-{slugify(name.replace('.', '-'))}"
                yield MaterialWanted(key, LotKind.PLATE, LOT_OF, name, named=name)
        case StationKind.PRESS:
            glue = glue_of(operation, inputs)
            glued = bool(results["gluing"]["lines"])  # a single plate has a seam but no glue line
            yield MaterialWanted(
                "glue", GLUE_BATCH, "Glue batch", glue.name, required=glued and _mixes(glue, at), glue=glue
            )
        case StationKind.SEAL | StationKind.FINISH:
            coats = results["coats"]["coats"]
            index = operation.coat_index
            name = coats[index]["name"] if index is not None and index < len(coats) else ""
            yield MaterialWanted("coating", LotKind.COATING, LOT_FOR if name else "Lot of the coating", named=name)
        case StationKind.WRAP:
            wrap = inputs["finish"]["wrap"]
            yield MaterialWanted("wrap", LotKind.WRAP, "Lot of the wrap", wrap["name"] if wrap else "")
        case StationKind.ASSEMBLE:
            yield MaterialWanted("hardware", LotKind.HARDWARE, "Lot of the hardware")
            yield MaterialWanted("heads", LotKind.HEAD, "Lot of the heads")
            if inputs["role"] == Role.SNARE:
                yield MaterialWanted("snare-wires", LotKind.SNARE_WIRE, "Lot of the snare wires")


def glue_of(operation: Operation, inputs: Mapping[str, Any]) -> Glue:
    """The glue of a shell's frozen spec; when it was renamed since, the glue of its lay-up."""
    named = Glue.objects.filter(name__iexact=inputs["glue"]["name"]).first()
    return named or operation.shell.model.lay_up.glue


def usable_batches(at: datetime) -> QuerySet[GlueBatch]:
    """Glue batches that may be spread at a moment, the newest first."""
    return GlueBatch.objects.filter(
        mixed_at__gte=at - LONGEST_POT_LIFE, mixed_at__lte=at, use_until__gte=at, is_empty=False
    ).select_related("glue", "mixed_by")


def _mixes(glue: Glue, at: datetime) -> bool:
    """Whether the shop mixes this glue in batches at present."""
    midnight = timezone.localtime(at).replace(hour=0, minute=0, second=0, microsecond=0)
    return GlueBatch.objects.filter(
        Q(mixed_at__gte=midnight) | Q(mixed_at__gte=at - LONGEST_POT_LIFE, use_until__gte=at),
        glue=glue,
        mixed_at__lte=at,
    ).exists()


def fitting_lots(wanted: MaterialWanted, at: datetime) -> list[MaterialLot]:
    """The lots that may be used for ``wanted``: those named like the recipe first, then opened ones, then the oldest."""
    today = timezone.localdate(at)
    lots = MaterialLot.objects.filter(
        Q(expires_on__isnull=True) | Q(expires_on__gte=today), kind=wanted.kind, state__in=IN_STOCK
    )
    others = _other_recipes(wanted) if lots else frozenset()
    fitting = [lot for lot in lots if lot.name.casefold() not in others]
    return sorted(
        fitting,
        key=lambda lot: (
            lot.name.casefold() != wanted.name.casefold(),
            lot.state != LotState.OPEN,
            lot.received_on,
            lot.code,
        ),
    )


def read_materials(
    wanted: Sequence[MaterialWanted], answers: Mapping[str, str], at: datetime, *, since_then: bool = False
) -> tuple[MaterialUsed, ...]:
    """Codes from the screen (key → code; several with commas between) as lots and batches that may be used at ``at``.

    ``since_then`` is for what was used a while ago: a lot that was emptied or held only later was good then.

    Locks them, so that none is put on hold meanwhile: only within an action. Raises ReadingRefused with a sentence.
    """
    given = [(each, _codes(answers.get(each.key, ""))) for each in wanted]
    every = [code for _, codes in given for code in codes]
    if every:  # all of them in one order, so that two tablets can't wait for each other
        list(MaterialLot.objects.select_for_update(of=("self",)).filter(code__in=every).order_by("pk"))
    used: list[MaterialUsed] = []
    for each, codes in given:
        if not codes and each.required:
            raise ReadingRefused(
                "material_missing",
                _("Which glue batch? {name} is mixed in batches today: pick it or type its code.").format(
                    name=each.name
                ),
            )
        used.extend(
            _batch(each, code, at, since_then)
            if each.is_batch
            else MaterialUsed(each, lot=usable_lot(each, code, at, since_then))
            for code in codes
        )
    return tuple(used)


def _codes(words: str) -> list[str]:
    codes = (word.strip().upper() for word in words.replace(";", ",").split(","))
    return list(dict.fromkeys(code for code in codes if code))


def usable_lot(wanted: MaterialWanted, code: str, at: datetime, since_then: bool = False) -> MaterialLot:
    """The lot of a code, locked; ReadingRefused says why it may not be used for ``wanted``."""
    lot = MaterialLot.objects.select_for_update(of=("self",)).filter(lot_code(code)).first()
    if lot is None:
        raise _unknown_lot(code)
    what = wanted.asked_for
    if lot.kind != wanted.kind:
        raise ReadingRefused(
            "wrong_kind",
            _("{lot} is {kind}, not {wanted}. Wanted: {what}.").format(
                lot=lot, kind=_(lot.get_kind_display()), wanted=_(LotKind(wanted.kind).label), what=what
            ),
        )
    if lot.name.casefold() in _other_recipes(wanted):
        raise ReadingRefused(
            "wrong_material", _("{lot} is not {name}. Wanted: {what}.").format(lot=lot, name=wanted.name, what=what)
        )
    if since_then and lot.received_on > timezone.localdate(at):
        raise ReadingRefused(
            "lot_came_later",
            _("{lot} came on {day}, after this step; look at the paper again.").format(
                lot=lot, day=day(lot.received_on)
            ),
        )
    state = _state_at(lot, at) if since_then else lot.state
    if state == LotState.MAKING:
        raise ReadingRefused(
            "lot_in_making", _("{lot} is still being made; take one whose steps are all signed.").format(lot=lot)
        )
    if state == LotState.EMPTY:
        raise ReadingRefused(
            "lot_empty", _("{lot} is marked empty; take another, or have the office open it again.").format(lot=lot)
        )
    if state == LotState.HELD:
        raise ReadingRefused("lot_held", _("{lot} is on hold and must not be used; take another.").format(lot=lot))
    if lot.expires_on is not None and lot.expires_on < timezone.localdate(at):
        raise ReadingRefused(
            "lot_expired",
            _("{lot} expired: its last day was {day}. Take another.").format(lot=lot, day=day(lot.expires_on)),
        )
    return lot


def _state_at(lot: MaterialLot, at: datetime) -> str:
    """What a lot was marked at an earlier moment. One that was entered only later was in stock before."""
    changes = list(lot.changes.order_by("at", "pk"))
    if not changes:
        return lot.state
    return next((change.state for change in reversed(changes) if change.at <= at), LotState.RECEIVED)


def _batch(wanted: MaterialWanted, code: str, at: datetime, since_then: bool) -> MaterialUsed:
    batch = GlueBatch.objects.select_for_update(of=("self",)).select_related("glue").filter(code=code.upper()).first()
    if batch is None:
        raise _unknown_batch(code)
    if wanted.glue is not None and batch.glue_id != wanted.glue.pk:
        raise ReadingRefused(
            "wrong_glue",
            _("{code} is {name}; this shell is glued with {wanted}. Take a batch of it.").format(
                code=batch.code, name=batch.glue.name, wanted=wanted.name
            ),
        )
    if at < batch.mixed_at:
        raise ReadingRefused(
            "not_mixed_yet",
            _("{code} was mixed at {moment}, after this step.").format(code=batch.code, moment=moment(batch.mixed_at)),
        )
    if not batch.may_be_used_at(at):
        raise ReadingRefused(
            "pot_life_over",
            _("{code} could be used until {moment}; it is too old now. Don't spread it: mix a new batch.").format(
                code=batch.code, moment=moment(batch.use_until)
            ),
        )
    if batch.is_empty and not since_then:  # nobody knows when it was used up; its time says that it was good
        raise ReadingRefused(
            "batch_empty", _("{code} is marked used up; take another, or mix a new batch.").format(code=batch.code)
        )
    return MaterialUsed(wanted, glue_batch=batch)


def _other_recipes(wanted: MaterialWanted) -> frozenset[str]:
    """Names of the recipe book that say of a lot that it is something else of the same kind."""
    names: QuerySet[Any, str]
    match wanted.kind:
        case LotKind.PLATE:
            names = Plate.objects.values_list("name", flat=True)
        case LotKind.WRAP:
            names = WrapSheet.objects.values_list("name", flat=True)
        case _:
            return frozenset()
    if not wanted.name:
        return frozenset()
    return frozenset(name.casefold() for name in names) - {wanted.name.casefold()}


def _unknown_lot(code: str) -> ReadingRefused:
    if GlueBatch.objects.filter(code=code.upper()).exists():
        return ReadingRefused(
            "wrong_kind", _("“{code}” is a glue batch, not a lot; look at the label again.").format(code=code[:40])
        )
    return ReadingRefused(
        "unknown_code",
        _("No lot has the code “{code}”; look at the label again, or ask the office to enter it.").format(
            code=code[:40]
        ),
    )


def _unknown_batch(code: str) -> ReadingRefused:
    if MaterialLot.objects.filter(lot_code(code)).exists():
        return ReadingRefused(
            "wrong_kind",
            _("“{code}” is a lot of material, not a glue batch; look at the label again.").format(code=code[:40]),
        )
    return ReadingRefused(
        "unknown_code",
        _("No glue batch has the code “{code}”; look at the label again, or ask the office to enter it.").format(
            code=code[:40]
        ),
    )
