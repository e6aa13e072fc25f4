"""Bags of hardware: filled by a drum's frozen parts list, checked by count or by weight, opened again with a reason.

What comes in no bag (hoops, heads, wires) is laid out beside them in one tray: the same list, the same count, the name
empty as in the parts list. Spare pieces go into the carton in a bag of their own; neither count nor weight has them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from django.utils.translation import gettext as _

from quality.bags import LOOSE_TITLE, BagOfDrum, BagStand, Window, bag_within, bag_words, bags_of, must_be_counted
from quality.closed_cartons import require_not_in_closed_carton
from quality.errors import QualityError
from quality.models import Bag, BagState, CheckedHow, Person
from quality.rights import Right, require_right
from quality.stock import put_back, take_out
from routing.errors import LostRace, NotAllowedNow
from routing.history import Stamp, add_record, lock_shell, recorded_tap
from routing.kits import NOT_IN_KIT
from routing.languages import moment, numeral
from routing.models import OrderState, RecordKind, Shell
from routing.turnstile import writing


def fill_bag(*, serial: str, name: str, seen: str | None = None, person: Person, stamp: Stamp) -> Bag:
    """Say that a bag was filled by the drum's parts list; the parts and their spares leave the shelf.

    LostRace when somebody filled it before, NotAllowedNow for a drum that has left or is scrapped.
    """
    require_right(person, Right.FILL_BAGS)
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.BAGGED):
            return _bag_of(shell, earlier.body)
        _require_here(shell)
        asked = _asked(shell, name)
        if asked.bag is not None:
            if asked.state == BagStand.STALE:
                raise NotAllowedNow("stale", asked.stale_sentence)
            raise LostRace("filled_already", _filled_before(asked))
        _require_seen(asked, seen, serial)
        attempt = Bag.objects.filter(shell=shell, name=name).count() + 1
        contents = [line.body for line in asked.contents]
        bag = Bag.objects.create(
            shell=shell,
            name=name,
            attempt=attempt,
            contents=contents,
            spec_revision=asked.revision,
            filled_by=person,
            filled_at=stamp.at,
        )
        taken = take_out(
            {line.name: line.quantity + line.spare for line in asked.contents},
            bag=bag,
            reason=f"{_short(name)} of {serial}",
            person=person,
            stamp=stamp,
        )
        add_record(
            shell,
            RecordKind.BAGGED,
            stamp,
            body={"bag": name, "attempt": attempt, "revision": asked.revision, "contents": contents, "taken": taken},
        )
    return bag


def count_bag(
    *, serial: str, name: str, counts: Sequence[int], seen: str | None = None, person: Person, stamp: Stamp
) -> Bag:
    """Check a bag by counting: pieces of each line, in the order of its list, without spares."""
    require_right(person, Right.FILL_BAGS)
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.BAG_CHECK):
            return _bag_of(shell, earlier.body)
        asked = _to_check(shell, name, seen)
        if len(counts) != len(asked.contents):
            raise QualityError("count_missing", _("Enter a count for every line of the list."))
        wrong = [
            _("{part}: {count} counted, {quantity} belong in it").format(
                part=line.name, count=count, quantity=line.quantity
            )
            for line, count in zip(asked.contents, counts, strict=True)
            if count != line.quantity
        ]
        if wrong:
            said = _("{wrong}. Put it right and count again.")
            raise QualityError("wrong_count", said.format(wrong="; ".join(wrong)))
        return _checked(asked, CheckedHow.COUNT, person, stamp, shell, counts=list(counts))


def weigh_bag(*, serial: str, name: str, weight_g: float, seen: str | None = None, person: Person, stamp: Stamp) -> Bag:
    """Check a bag by weight, with the empty bag tared and without spares; only where a scale finds one missing piece."""
    require_right(person, Right.FILL_BAGS)
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.BAG_CHECK):
            return _bag_of(shell, earlier.body)
        asked = _to_check(shell, name, seen)
        window = asked.window
        if window is None or not window.finds_one_missing:
            raise QualityError("must_be_counted", must_be_counted(asked))
        if not math.isfinite(weight_g) or not 0 < weight_g <= 100_000:
            raise QualityError("bad_weight", _("Enter what the scale shows in grams, more than 0."))
        if not window.low_g <= weight_g <= window.high_g:
            raise QualityError("wrong_weight", _wrong_weight(asked, window, weight_g))
        return _checked(asked, CheckedHow.WEIGHT, person, stamp, shell, weight_g=weight_g)


def open_bag(
    *,
    serial: str,
    name: str,
    reason: str,
    back: Mapping[int, int],
    seen: str | None = None,
    person: Person,
    stamp: Stamp,
) -> Bag:
    """Open a filled bag again: it has to be filled anew. ``back`` is how many of each line (from 0) go to the shelf."""
    require_right(person, Right.FILL_BAGS)
    with writing():
        shell = lock_shell(serial)
        if earlier := recorded_tap(stamp.tap_key, shell, RecordKind.UNBAGGED):
            return _bag_of(shell, earlier.body)
        _require_not_shipped(shell)
        bag = Bag.objects.exclude(state=BagState.OPENED).filter(shell=shell, name=name).first()
        if bag is None:
            raise LostRace(
                "not_filled",
                _("{bag} of {serial} is not filled now; somebody opened it before.").format(
                    bag=bag_words(name), serial=serial
                ),
            )
        if not reason.strip():
            raise QualityError("reason_missing", _("Say why it is opened; it stays on the drum's record."))
        require_not_in_closed_carton(shell, _("open the bag"))
        if seen is not None and seen.rpartition("-")[2] != str(bag.attempt):
            raise _moved_since(name, serial)
        pieces: dict[str, int] = {}
        for place, line in enumerate(bag.contents):
            most, said = line["quantity"] + line["spare"], back.get(place, 0)
            if not 0 <= said <= most:
                raise QualityError(
                    "too_many_back",
                    _("{part}: between 0 and {most} can go back to the shelf, not {said}.").format(
                        part=line["name"], most=most, said=said
                    ),
                )
            if said:
                pieces[line["name"]] = said
        bag.state = BagState.OPENED
        bag.save(update_fields=["state"])
        shelved = put_back(pieces, bag=bag, reason=f"{_short(name)} of {serial} opened", person=person, stamp=stamp)
        add_record(
            shell,
            RecordKind.UNBAGGED,
            stamp,
            body={
                "bag": name,
                "attempt": bag.attempt,
                "reason": reason.strip()[:200],
                "back": pieces,
                "shelved": shelved,
            },
        )
    return bag


def _wrong_weight(asked: BagOfDrum, window: Window, weight_g: float) -> str:
    few = weight_g < window.low_g
    what = _("Something is missing") if few else _("Something is too much")
    lines = ", ".join(f"{line.quantity} × {line.name}" for line in asked.contents)
    return _(
        "{weight} g lies outside {low} to {high} g. {what}, or the empty bag was not tared: {lines} belong in it, spares "
        "apart. Put it right and weigh again, or count it."
    ).format(
        weight=numeral(weight_g, ".1f"),
        low=numeral(window.low_g, ".1f"),
        high=numeral(window.high_g, ".1f"),
        what=what,
        lines=lines,
    )


def _checked(
    asked: BagOfDrum,
    how: CheckedHow,
    person: Person,
    stamp: Stamp,
    shell: Shell,
    *,
    counts: list[int] | None = None,
    weight_g: float | None = None,
) -> Bag:
    bag, window = asked.bag, asked.window
    assert bag is not None
    bag.state, bag.checked_how, bag.checked_by, bag.checked_at = BagState.CHECKED, how, person, stamp.at
    bag.counts, bag.weight_g = counts, weight_g
    body: dict[str, Any] = {"bag": bag.name, "attempt": bag.attempt, "how": how}
    if weight_g is not None and window is not None:
        bag.low_g, bag.high_g = window.low_g, window.high_g
        body |= {"weight_g": weight_g, "low_g": window.low_g, "high_g": window.high_g}
    else:
        body |= {"counts": counts}
    bag.save()
    add_record(shell, RecordKind.BAG_CHECK, stamp, body=body)
    return bag


def _to_check(shell: Shell, name: str, seen: str | None) -> BagOfDrum:
    """A bag that waits for its check, under the shell's lock."""
    _require_here(shell)
    asked = _asked(shell, name)
    if asked.bag is None:
        raise NotAllowedNow(
            "not_filled",
            _("{bag} of {serial} is not filled yet; fill it first.").format(bag=asked.in_words, serial=shell.serial),
        )
    if asked.state == BagStand.STALE:
        raise NotAllowedNow("stale", asked.stale_sentence)
    if asked.state == BagStand.CHECKED:
        who, when = asked.bag.checked_by, asked.bag.checked_at
        assert who is not None and when is not None
        raise LostRace(
            "checked_already",
            _("{name} checked {bag} of {serial} at {time}; nothing was changed.").format(
                bag=bag_within(asked.name), serial=shell.serial, name=who.name, time=moment(when)
            ),
        )
    _require_seen(asked, seen, shell.serial)
    return asked


def _asked(shell: Shell, name: str) -> BagOfDrum:
    for each in bags_of(shell):
        if each.name == name:
            return each
    raise NotAllowedNow(
        "no_such_bag",
        _("The parts list of {serial} has no bag “{name}”; open the list again.").format(
            serial=shell.serial, name=name
        ),
    )


def _require_seen(asked: BagOfDrum, seen: str | None, serial: str) -> None:
    if seen not in (None, asked.seen):
        raise _moved_since(asked.name, serial)


def _moved_since(name: str, serial: str) -> LostRace:
    return LostRace(
        "moved_since",
        _("{bag} of {serial} changed since this page was opened; look at its list again.").format(
            bag=bag_words(name), serial=serial
        ),
    )


def _filled_before(asked: BagOfDrum) -> str:
    bag = asked.bag
    assert bag is not None
    return _("{name} filled {bag} of {serial} at {time}; nothing was changed.").format(
        bag=bag_within(asked.name), serial=bag.shell.serial, name=bag.filled_by.name, time=moment(bag.filled_at)
    )


def _bag_of(shell: Shell, body: Mapping[str, Any]) -> Bag:
    return Bag.objects.get(shell=shell, name=body["bag"], attempt=body["attempt"])


def _short(name: str) -> str:
    return f"Bag {name}" if name else LOOSE_TITLE


def _require_here(shell: Shell) -> None:
    _require_not_shipped(shell)
    if shell.state in NOT_IN_KIT:
        raise NotAllowedNow(
            "not_made",
            _("{serial} is {state}; nothing is filled or checked for it any more.").format(
                serial=shell.serial, state=_(shell.get_state_display())
            ),
        )


def _require_not_shipped(shell: Shell) -> None:
    if shell.order.state == OrderState.SHIPPED:
        raise NotAllowedNow(
            "shipped",
            _("{serial} was shipped, and its bags with it; nothing can be changed here.").format(serial=shell.serial),
        )
