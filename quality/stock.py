"""Parts on the shelf: how many there are, who counted or received them, what went into bags and to customers.

A part that nobody counted yet has no row and no number: it is “not counted”, never zero. A count may fall below zero
when more went into bags than it knew of; the work is not stopped for that, somebody counts the shelf again.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from enum import Enum

from django.db.models import F
from django.utils.translation import gettext as _

from quality.errors import QualityError
from quality.models import Bag, CustomerRequest, LotState, MaterialLot, Person, StockMove, StockPart
from quality.models.materials import lot_code
from quality.rights import Right, require_right
from routing.errors import LostRace
from routing.history import Stamp
from routing.models import Part, Plate, ShellSpec, ShellState
from routing.turnstile import writing

MOST = 1_000_000


class NotCounted(Enum):
    """What a page shows of a part that nobody counted."""

    NOT_COUNTED = "not counted"


NOT_COUNTED = NotCounted.NOT_COUNTED
IN_THE_SHOP = [ShellState.PLANNED, ShellState.IN_PRODUCTION, ShellState.ON_HOLD, ShellState.FINISHED]


def count_part(
    *,
    name: str,
    counted: int,
    reason: str = "",
    expected: int | NotCounted | None = None,
    reorder_at: int | None = None,
    place: str | None = None,
    person: Person,
    stamp: Stamp,
) -> StockMove:
    """Enter how many of a part lie on the shelf. The first count makes its row; a later one takes a reason.

    ``expected`` is what the page showed, ``NOT_COUNTED`` when it had no number: LostRace when parts came or went since.
    ``reorder_at`` and ``place`` of the shelf are kept when given.
    """
    require_right(person, Right.MANAGE_MATERIALS)
    clean = _clean(name)
    if not 0 <= counted <= MOST:
        said = _("Enter how many {part} there are: a whole number from 0 on.")
        raise QualityError("bad_count", said.format(part=clean))
    if reorder_at is not None and not 0 <= reorder_at <= MOST:
        raise QualityError("bad_count", _("Ask again when fewer are left than a whole number from 0 on."))
    with writing():
        part = StockPart.objects.select_for_update(of=("self",)).filter(name=clean).first()
        if earlier := _earlier(stamp, clean):
            return earlier
        if part is None:
            if not _is_known(clean):
                said = _("No parts list has “{part}”; pick the name as a list writes it.")
                raise QualityError("unknown_part", said.format(part=clean))
            part, made = StockPart.objects.get_or_create(name=clean)
            if not made:
                if earlier := _earlier(stamp, clean):  # the same tap was faster
                    return earlier
                raise _counted_before(clean)
            reason = reason.strip() or "first count"
        else:
            _require_as_expected(part, expected)
            if not reason.strip():
                said = _("Say why the count of {part} changes; it stays with the part.")
                raise QualityError("reason_missing", said.format(part=clean))
        if reorder_at is not None:
            part.reorder_at = reorder_at
        if place is not None:
            part.place = place.strip()[:40]
        return _move(part, counted - part.on_hand, reason, person, stamp, keyed=True)


def receive_parts(
    *, name: str, quantity: int, note: str = "", lot_code: str = "", person: Person, stamp: Stamp
) -> StockMove:
    """Add a delivery to the shelf. Refused for a part that nobody counted yet: count the shelf with the delivery then.

    ``lot_code`` is what its label says, for a lot that is entered; then the lot's page tells where its parts went.
    """
    require_right(person, Right.MANAGE_MATERIALS)
    clean = _clean(name)
    if not 0 < quantity <= MOST:
        said = _("Enter how many {part} came: a whole number, more than 0.")
        raise QualityError("bad_count", said.format(part=clean))
    with writing():
        part = StockPart.objects.select_for_update(of=("self",)).filter(name=clean).first()
        if earlier := _earlier(stamp, clean):
            return earlier
        if part is None:
            said = _("Nobody counted {part} yet: count the shelf with this delivery and enter that.")
            raise QualityError("not_counted", said.format(part=clean))
        lot = _lot(lot_code.strip()) if lot_code.strip() else None
        return _move(part, quantity, note.strip() or "received", person, stamp, lot=lot, keyed=True)


def take_out(
    pieces: Mapping[str, int],
    *,
    bag: Bag | None = None,
    request: CustomerRequest | None = None,
    reason: str,
    person: Person,
    stamp: Stamp,
) -> dict[str, int]:
    """Take what goes into a bag, or to a customer, off the shelf; says what was taken. Only within an action.

    Parts not counted have no number. Nothing is refused: see ``below_zero``.
    """
    return _moved({name: -count for name, count in pieces.items()}, bag, request, reason, person, stamp)


def put_back(
    pieces: Mapping[str, int],
    *,
    bag: Bag | None = None,
    request: CustomerRequest | None = None,
    reason: str,
    person: Person,
    stamp: Stamp,
) -> dict[str, int]:
    """Put parts of a bag or of a request back on the shelf; says what was put. Only within an action."""
    return _moved(pieces, bag, request, reason, person, stamp)


def below_zero(names: Iterable[str]) -> list[str]:
    """Of these parts, those whose count can't be true any more, a sentence each."""
    said = _("{part}: the shelf says {pieces} now. Count it again, so that the next drum does not go short.")
    return [
        said.format(part=part.name, pieces=part.on_hand)
        for part in StockPart.objects.filter(name__in=list(names), on_hand__lt=0)
    ]


def _moved(
    changes: Mapping[str, int],
    bag: Bag | None,
    request: CustomerRequest | None,
    reason: str,
    person: Person,
    stamp: Stamp,
) -> dict[str, int]:
    wanted = {name: change for name, change in changes.items() if change}
    # One order for everybody, so that two bags can't wait for each other.
    parts = StockPart.objects.select_for_update(of=("self",)).filter(name__in=wanted).order_by("pk")
    moved = {}
    for part in parts:
        _move(part, wanted[part.name], reason, person, stamp, bag=bag, request=request)
        moved[part.name] = abs(wanted[part.name])
    return moved


def _move(
    part: StockPart,
    change: int,
    reason: str,
    person: Person,
    stamp: Stamp,
    *,
    bag: Bag | None = None,
    request: CustomerRequest | None = None,
    lot: MaterialLot | None = None,
    keyed: bool = False,
) -> StockMove:
    part.on_hand += change
    part.save()
    return StockMove.objects.create(
        part=part,
        change=change,
        on_hand_after=part.on_hand,
        reason=reason.strip()[:120],
        bag=bag,
        request=request,
        lot=lot,
        person=person,
        person_name=stamp.person_name,
        at=stamp.at,
        tap_key=stamp.tap_key if keyed else None,
    )


def _earlier(stamp: Stamp, name: str) -> StockMove | None:
    if stamp.tap_key is None:
        return None
    earlier = StockMove.objects.select_related("part").filter(tap_key=stamp.tap_key).first()
    if earlier is not None and earlier.part.name != name:
        raise LostRace("key_used", _("This form was sent already; open the page again."))
    return earlier


def _clean(name: str) -> str:
    clean = name.strip()
    if not clean or len(clean) > 80:
        raise QualityError("nothing_said", _("Say which part, by the name that the parts list gives it."))
    return clean


def _lot(code: str) -> MaterialLot:
    lot = MaterialLot.objects.select_for_update(of=("self",)).filter(lot_code(code)).first()
    if lot is None:
        said = _("No lot has the code {code}. Enter the delivery under Materials first, or leave the code empty.")
        raise QualityError("no_lot", said.format(code=code))
    if lot.state in (LotState.HELD, LotState.MAKING):
        said = _("Lot {lot} is {state}; its parts stay off the shelf until it is free.")
        raise QualityError("lot_not_free", said.format(lot=lot.code, state=_(lot.get_state_display())))
    return lot


def _require_as_expected(part: StockPart, expected: int | NotCounted | None) -> None:
    if isinstance(expected, NotCounted):
        raise _counted_before(f"{part.name} ({part.on_hand})")
    if expected is not None and part.on_hand != expected:
        said = _("{part} stood at {before} when you began; it is {now} now. Count again, then enter it.")
        raise LostRace("moved_since", said.format(part=part.name, before=expected, now=part.on_hand))


def _counted_before(what: str) -> LostRace:
    said = _("Somebody else counted {what} just now; look at it, then count again.")
    return LostRace("counted_before", said.format(what=what))


def _is_known(name: str) -> bool:
    """Whether a parts list has it, or the recipe book a kind of sheet of this name."""
    recipes = (Part.objects.filter(name=name), Plate.objects.filter(name=name))
    return any(rows.exists() for rows in recipes) or _in_frozen_list(name)


def _in_frozen_list(name: str) -> bool:
    """Whether a drum that is in the shop has a part of this name, although the recipe book calls it otherwise now."""
    lists = ShellSpec.objects.filter(shell__state__in=IN_THE_SHOP, revision=F("shell__spec_revision")).values_list(
        "results__hardware__pick_list", flat=True
    )
    return any(line["name"] == name for lines in lists for line in lines or [])
