"""The guided round: six stops that do real work on the real screens, each found done from the drums' records."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse
from django.utils import timezone

from quality.actions import final_check_of
from quality.models import CustomerRequest, Person, Problem, ProblemState, Qualification, RequestState, SignOff
from quality.rights import Right, has_right
from routing.models import KitOrder, Operation, OperationState, RecordKind, Shell, ShellRecord, Shop, Station
from shopfloor.demo.people import PEOPLE
from shopfloor.demo.which_shop import is_the_demo
from shopfloor.start.begin import PLACE

DRUMS = 3


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
    at_tablet: bool = False
    signer: Signer | None = None


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
    if not (shop.round_order and is_the_demo(shop)):
        return None
    order = KitOrder.objects.filter(number=shop.round_order).first()
    shells = list(Shell.objects.filter(order=order).order_by("pk")[:DRUMS]) if order else []
    if order is None or len(shells) < DRUMS:
        return None
    fresh, checked, packed = shells
    stops = [*_floor_stops(fresh), _settle(fresh), _card(checked), _trace(packed, shop), _answer(packed)]
    return Round(order, tuple(stops))


def _floor_stops(shell: Shell) -> list[Stop]:
    steps = list(Operation.objects.filter(shell=shell).select_related("station").order_by("position"))
    signed = SignOff.objects.filter(operation__shell=shell).exists()
    held = Problem.objects.filter(shell=shell).exists()
    now_at = next((step for step in steps if step.state != OperationState.DONE), steps[-1]).station
    first = steps[0].station if signed else now_at
    return [
        Stop(
            1,
            "sign",
            "Sign a step",
            (
                f"{shell.serial} lies at {first.name}. Open its step on the tablet and sign in with a name and a PIN.",
                "Read the caution, look at the numbers, enter what the checks ask for, then sign.",
            ),
            _at_tablet(first, shell),
            "Open the step",
            signed,
            shell.serial,
            at_tablet=True,
            signer=signer_at(first),
        ),
        Stop(
            2,
            "hold",
            "Hold a shell",
            (
                f"The same shell now lies at {now_at.name}, and something is wrong with it.",
                "Open its step, press “Something is wrong”, say what you see. The shell is on hold from then on.",
            ),
            _at_tablet(now_at, shell),
            "Open the step",
            held,
            shell.serial,
            at_tablet=True,
            signer=signer_at(now_at),
        ),
    ]


def _settle(shell: Shell) -> Stop:
    settled = Problem.objects.filter(shell=shell).exclude(state=ProblemState.OPEN).exists()
    return Stop(
        3,
        "settle",
        "Settle it",
        (
            f"{shell.serial} waits for a supervisor. Its page shows what was found, and by whom.",
            "Decide what happens to it: release it, with a few words on how it was settled.",
        ),
        reverse("trace:shell", args=[shell.serial]),
        "Open the drum",
        settled,
        shell.serial,
    )


def _card(shell: Shell) -> Stop:
    printed = ShellRecord.objects.filter(shell=shell, kind=RecordKind.CARD).exists()
    return Stop(
        4,
        "card",
        "Print a card",
        (
            f"{shell.serial} passed its final check and waits for its card.",
            "Press “Print card” at the top of its page. The card bears the checker's name and goes into the carton.",
        ),
        reverse("trace:shell", args=[shell.serial]),
        "Open the drum",
        printed,
        shell.serial,
    )


def _trace(shell: Shell, shop: Shop) -> Stop:
    return Stop(
        5,
        "trace",
        "Trace a drum",
        (
            f"A customer reads out a serial number: {shell.serial}. Who checked this drum?",
            "Type the number into the search box at the top, read the drum's story, then write the checker's name here.",
        ),
        f"{reverse('trace:search')}?q={shell.serial}",
        "Look it up",
        shop.round_traced == shell.serial,
        shell.serial,
    )


def _answer(shell: Shell) -> Stop:
    asked = CustomerRequest.objects.filter(shell=shell, events__record__device=PLACE).order_by("pk").first()
    address = reverse("requests:request", args=[asked.number]) if asked else reverse("requests:list")
    return Stop(
        6,
        "answer",
        "Answer a request",
        (
            f"The same customer asks something about {shell.serial}. What is known of the drum stands beside the question.",
            "Write what the customer is told, then close the request with the answer.",
        ),
        address,
        "Open the request",
        asked is not None and asked.state not in (RequestState.OPEN, RequestState.PICKED),
        shell.serial,
    )


def _at_tablet(station: Station, shell: Shell) -> str:
    return reverse("floor:step", args=[station.code, shell.serial])


def signer_at(station: Station) -> Signer | None:
    """Somebody who may sign at a station; of those, one whose PIN everybody can read."""
    today = timezone.localdate()
    pins = {row.username: row.pin for row in PEOPLE if row.pin}
    found: list[Person] = [
        each.person
        for each in Qualification.objects.filter(station=station, person__is_active=True)
        .exclude(person__pin="")
        .select_related("person")
        .order_by("person__username")
        if each.holds_on(today) and has_right(each.person, Right.SIGN_STEPS)
    ]
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
