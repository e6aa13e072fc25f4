"""Lots of material: receive one, open, empty, hold or free it, and note which step used which."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.utils.translation import gettext as _

from quality.errors import QualityError
from quality.materials import MaterialUsed
from quality.models import LotChange, LotKind, LotState, MadeLot, MaterialLot, MaterialUse, Person, SignOff
from quality.models.materials import lot_code
from quality.rights import Right, require_right
from routing.errors import LostRace
from routing.history import Stamp
from routing.turnstile import writing


def receive_lot(
    *,
    code: str,
    kind: LotKind,
    name: str,
    received_on: date,
    expires_on: date | None = None,
    note: str = "",
    person: Person,
    stamp: Stamp,
) -> MaterialLot:
    """Enter a delivery under the code of its label. LostRace when the code is taken, QualityError for what is wrong."""
    require_right(person, Right.MANAGE_MATERIALS)
    clean = code.strip().upper()
    if not clean or not name.strip():
        raise QualityError("nothing_said", _("A lot needs the code of its label and a name."))
    if "," in clean or ";" in clean:
        raise QualityError(
            "bad_code", _("A code has no comma or semicolon: those stand between the codes of two lots.")
        )
    if expires_on is not None and expires_on < received_on:
        raise QualityError("dates", _("Its last day lies before the day it came; change one of the two dates."))
    with writing():
        if (earlier := _earlier(stamp)) is not None:
            return _same(earlier, clean)
        if MaterialLot.objects.filter(lot_code(clean)).exists():
            raise LostRace(
                "code_taken",
                _("A lot with the code {code} is entered already; give this one another.").format(code=clean),
            )
        lot = MaterialLot.objects.create(
            code=clean[:40],
            kind=kind,
            name=name.strip()[:80],
            received_on=received_on,
            expires_on=expires_on,
            note=note.strip()[:200],
        )
        _note(lot, LotState.RECEIVED, stamp, "received")
    return lot


def set_lot_state(*, lot: MaterialLot, state: LotState, reason: str = "", person: Person, stamp: Stamp) -> MaterialLot:
    """Open, empty or hold a lot, or free it again. To hold or to free one takes a reason, which stays with it."""
    require_right(person, Right.MANAGE_MATERIALS)
    with writing():
        now = MaterialLot.objects.select_for_update(of=("self",)).get(pk=lot.pk)
        if (earlier := _earlier(stamp)) is not None:
            return _same(earlier, now.code)
        if now.state == state:
            said = _("{lot} is marked “{state}” already; nothing was changed.")
            raise LostRace("same_state", said.format(lot=now, state=_(now.get_state_display())))
        if state == LotState.RECEIVED:
            raise QualityError("state", _("A lot is received once; mark it open instead."))
        if state == LotState.MAKING:
            raise QualityError("state", _("A lot is being made from the day it is begun; mark it something else."))
        if not is_finished(now) and state == LotState.OPEN:
            if now.state != LotState.HELD:
                raise QualityError(
                    "not_finished",
                    _("{lot} is still being made; its steps are signed at their stations.").format(lot=now),
                )
            state = LotState.MAKING  # freed, its steps go on where they stopped
        if LotState.HELD in (state, now.state) and not reason.strip():
            raise QualityError("reason_missing", _("Say why; it stays with the lot."))
        now.state = state
        now.save(update_fields=["state"])
        _note(now, state, stamp, reason)
    return now


def is_finished(lot: MaterialLot) -> bool:
    """Whether a lot was delivered, or made here with every step signed and a good piece left."""
    made = MadeLot.objects.filter(lot=lot).select_related("route").first()
    if made is None:
        return True
    last = made.sign_offs.order_by("pk").last()
    return last is not None and last.good > 0 and made.sign_offs.count() == made.route.steps.count()


def note_use(signed: SignOff, used: Sequence[MaterialUsed], stamp: Stamp) -> None:
    """Write what a signature used. Part of signing: the lots are locked by it. The first use opens a lot."""
    MaterialUse.objects.bulk_create(
        [MaterialUse(sign_off=signed, lot=each.lot, glue_batch=each.glue_batch) for each in used]
    )
    opened = {each.lot.pk: each.lot for each in used if each.lot is not None and each.lot.state == LotState.RECEIVED}
    for lot in opened.values():
        open_lot(lot, stamp)


def open_lot(lot: MaterialLot, stamp: Stamp) -> None:
    """A lot in stock is used for the first time. Only within an action that has locked it."""
    lot.state = LotState.OPEN
    lot.save(update_fields=["state"])
    _note(lot, LotState.OPEN, stamp, "first use", keyed=False)


def note_lot_change(lot: MaterialLot, state: LotState, stamp: Stamp, reason: str) -> None:
    """Write what happened to a lot that another action has locked."""
    _note(lot, state, stamp, reason, keyed=False)


def _note(lot: MaterialLot, state: LotState, stamp: Stamp, reason: str, *, keyed: bool = True) -> None:
    LotChange.objects.create(
        lot=lot,
        state=state,
        at=stamp.at,
        person_id=stamp.person_id,
        person_name=stamp.person_name,
        reason=reason.strip()[:200],
        tap_key=stamp.tap_key if keyed else None,
    )


def _earlier(stamp: Stamp) -> LotChange | None:
    if stamp.tap_key is None:
        return None
    return LotChange.objects.select_related("lot").filter(tap_key=stamp.tap_key).first()


def _same(earlier: LotChange, code: str) -> MaterialLot:
    """The lot of a form that arrived twice."""
    if earlier.lot.code != code:
        raise LostRace("key_used", _("This form was sent already; open the page again."))
    return earlier.lot
