"""The guided round: six stops that do real work on the real screens, each found done from the drums' records."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from quality.actions import final_check_of
from quality.may_sign import signers_at
from quality.models import CustomerRequest, Problem, ProblemState, RequestState, SignOff
from routing.models import KitOrder, Operation, OperationState, RecordKind, Shell, ShellRecord, Shop, Station
from shopfloor.demo.people import PEOPLE
from shopfloor.demo.which_shop import is_the_demo

PLACE = "guided round"  # in place of a tablet
DRUMS, STOPS = 3, 6


@dataclass(frozen=True, slots=True)
class Signer:
    """Who can sign at a station, with the PIN of the demo as long as it is that."""

    name: str
    pin: str


@dataclass(frozen=True, slots=True)
class Stop:
    number: int
    code: str
    title: str
    what: tuple[str, ...]  # what to do there, sentence by sentence
    address: str
    button: str
    is_done: bool
    serial: str
    at: Station | None = None  # of work at a tablet


@dataclass(frozen=True, slots=True)
class Round:
    order: KitOrder
    stops: tuple[Stop, ...]

    @property
    def present(self) -> Stop | None:
        """The first stop that is not done."""
        return next((stop for stop in self.stops if not stop.is_done), None)

    @property
    def done(self) -> int:
        return sum(stop.is_done for stop in self.stops)


def present_round(shop: Shop) -> Round | None:
    """The round that is on; None when none is, or when its order is gone."""
    shells = _drums(shop)
    return Round(shells[0].order, tuple(_stops(shells, shop))) if shells else None


def present_stop(shop: Shop) -> tuple[bool, Stop | None]:
    """Whether a round is on, and its first stop that is not done; nothing is asked about those after it."""
    shells = _drums(shop)
    stops = _stops(shells, shop) if shells else iter(())
    return bool(shells), next((stop for stop in stops if not stop.is_done), None)


def _drums(shop: Shop) -> list[Shell]:
    if not (shop.round_order and is_the_demo(shop)):
        return []
    found = Shell.objects.filter(order__number=shop.round_order).select_related("order").order_by("pk")[:DRUMS]
    return shells if len(shells := list(found)) == DRUMS else []


def _stops(shells: list[Shell], shop: Shop) -> Iterator[Stop]:
    """One after the other, each looked up when it is its turn."""
    fresh, checked, packed = shells
    steps = list(Operation.objects.filter(shell=fresh).select_related("station").order_by("position"))
    now_at = next((step for step in steps if step.state != OperationState.DONE), steps[-1]).station
    yield _sign(fresh, steps[0].station, now_at)
    yield _hold(fresh, now_at)
    yield _settle(fresh)
    yield _card(checked)
    yield _trace(packed, shop)
    yield _answer(packed)


def _sign(shell: Shell, first: Station, now_at: Station) -> Stop:
    signed = SignOff.objects.filter(operation__shell=shell).exists()
    at = first if signed else now_at
    return Stop(
        1,
        "sign",
        _("Sign a step"),
        (
            _("{serial} lies at {station}. Open its step on the tablet and sign in with a name and a PIN.").format(
                serial=shell.serial, station=at.name
            ),
            _("Read the caution, look at the numbers, enter what the checks ask for, then sign."),
        ),
        _at_tablet(at, shell),
        _("Open the step"),
        signed,
        shell.serial,
        at=at,
    )


def _hold(shell: Shell, at: Station) -> Stop:
    held = Problem.objects.filter(shell=shell).exists()
    return Stop(
        2,
        "hold",
        _("Hold a shell"),
        (
            _("The same shell now lies at {station}, and something is wrong with it.").format(station=at.name),
            _("Open its step, press “Something is wrong”, say what you see. The shell is on hold from then on."),
        ),
        _at_tablet(at, shell),
        _("Open the step"),
        held,
        shell.serial,
        at=at,
    )


def _settle(shell: Shell) -> Stop:
    settled = Problem.objects.filter(shell=shell).exclude(state=ProblemState.OPEN).exists()
    return Stop(
        3,
        "settle",
        _("Settle it"),
        (
            _("{serial} waits for a supervisor. Its page shows what was found, and by whom.").format(
                serial=shell.serial
            ),
            _("Decide what happens to it: release it, with a few words on how it was settled."),
        ),
        reverse("trace:shell", args=[shell.serial]),
        _("Open the drum"),
        settled,
        shell.serial,
    )


def _card(shell: Shell) -> Stop:
    printed = ShellRecord.objects.filter(shell=shell, kind=RecordKind.CARD).exists()
    return Stop(
        4,
        "card",
        _("Print a card"),
        (
            _("{serial} passed its final check and waits for its card.").format(serial=shell.serial),
            _("Press “Print card” at the top of its page. The card bears the checker's name and goes into the carton."),
        ),
        reverse("trace:shell", args=[shell.serial]),
        _("Open the drum"),
        printed,
        shell.serial,
    )


def _trace(shell: Shell, shop: Shop) -> Stop:
    return Stop(
        5,
        "trace",
        _("Trace a drum"),
        (
            _("A customer reads out a serial number: {serial}. Who checked this drum?").format(serial=shell.serial),
            _(
                "Type the number into the search box at the top, read the drum's story, then write the checker's name here."
            ),
        ),
        f"{reverse('trace:search')}?q={shell.serial}",
        _("Look it up"),
        shop.round_traced == shell.serial,
        shell.serial,
    )


def _answer(shell: Shell) -> Stop:
    asked = CustomerRequest.objects.filter(shell=shell, events__record__device=PLACE).order_by("pk").first()
    address = reverse("requests:request", args=[asked.number]) if asked else reverse("requests:list")
    return Stop(
        6,
        "answer",
        _("Answer a request"),
        (
            _(
                "The same customer asks something about {serial}. What is known of the drum stands beside the question."
            ).format(serial=shell.serial),
            _("Write what the customer is told, then close the request with the answer."),
        ),
        address,
        _("Open the request"),
        asked is not None and asked.state not in (RequestState.OPEN, RequestState.PICKED),
        shell.serial,
    )


def _at_tablet(station: Station, shell: Shell) -> str:
    return reverse("floor:step", args=[station.code, shell.serial])


def signer_at(station: Station) -> Signer | None:
    """Somebody who may sign at a station; of those, one whose PIN everybody can read."""
    pins = {row.username: row.pin for row in PEOPLE if row.pin}
    found = [who for who in signers_at(station, timezone.localdate()) if who.pin]
    known = [who for who in found if who.username in pins and who.pin_version == 1]
    if known:
        return Signer(known[0].name, pins[known[0].username])
    return Signer(found[0].name, "") if found else None


def is_the_checker(serial: str, name: str) -> bool:
    """Whether this is the name under the final check of a drum, however it is spaced and written."""
    shell = Shell.objects.filter(serial=serial).first()
    final = final_check_of(shell) if shell else None
    return final is not None and _plain(name) == _plain(final.record.person_name)


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()
