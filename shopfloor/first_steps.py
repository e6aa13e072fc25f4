"""The first steps of a shop of one's own: what is done, found from what is in the shop, and what was skipped."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from django.utils.translation import gettext_noop

from quality.models import Person, Qualification, Role, SignOff, Tablet
from quality.rights import Right, has_right
from routing.models import DrumModel, KitOrder, RouteTemplate, Shop, Station, StationKind, TravelerPrint
from routing.turnstile import writing
from shopfloor.demo.which_shop import is_the_demo

ON_THE_WAY = "first_steps"  # in the session of whoever goes through them
UNNAMED = Shop._meta.get_field("name").default


@dataclass(frozen=True, slots=True)
class Kind:
    """One of the seven steps as it is for everybody."""

    code: str
    title: str
    why: str  # what it is good for, in a sentence or two
    screen: str  # the name of the screen on which it is done
    button: str
    right: Right  # who may do it there
    done: Callable[[Shop], bool]


@dataclass(frozen=True, slots=True)
class Step:
    """One of the seven steps as it stands in this shop, for whoever asks."""

    number: int
    kind: Kind
    is_done: bool
    is_skipped: bool
    may_do: bool

    @property
    def is_open(self) -> bool:
        return not (self.is_done or self.is_skipped)


def _has_signers(shop: Shop) -> bool:
    """Whether somebody with a PIN may sign somewhere, and a final checker with a PIN the final check."""
    signers = Qualification.objects.filter(person__is_active=True).exclude(person__pin="")
    checkers = signers.filter(person__role=Role.FINAL_CHECKER, station__kind=StationKind.FINAL_CHECK)
    others = signers.exclude(station__kind=StationKind.FINAL_CHECK)
    return checkers.exists() and others.exists()


def _has_places(shop: Shop) -> bool:
    return Station.objects.filter(is_active=True).exists() and RouteTemplate.objects.filter(is_current=True).exists()


def _has_paper(shop: Shop) -> bool:
    """A shop in which somebody signed is past its first traveler, printed or not."""
    return TravelerPrint.objects.exists() or SignOff.objects.exists()


KINDS = (
    Kind(
        "name",
        gettext_noop("Name the shop"),
        gettext_noop(
            "The name stands at the top of every page, on travelers and on cards. The letters before each serial number are set "
            "here, too: choose them before the first order is released."
        ),
        "people:shop",
        gettext_noop("Open the settings"),
        Right.EDIT_SHOP,
        lambda shop: shop.name != UNNAMED,
    ),
    Kind(
        "stations",
        gettext_noop("Set up the stations"),
        gettext_noop(
            "Where work is done, with the caution that is shown there, what is checked before a step is signed, and the way a "
            "drum takes from station to station."
        ),
        "catalog:index",
        gettext_noop("Set them up by hand"),
        Right.EDIT_RECIPES,
        _has_places,
    ),
    Kind(
        "people",
        gettext_noop("Add people and PINs"),
        gettext_noop(
            "Everybody signs with their own name and PIN, at the stations they are qualified for. You also "
            "need a final checker with a PIN, qualified at the final check: whoever assembled a drum may not check it."
        ),
        "people:list",
        gettext_noop("Add people"),
        Right.EDIT_PEOPLE,
        _has_signers,
    ),
    Kind(
        "tablets",
        gettext_noop("Add a tablet"),
        gettext_noop(
            "Work at the stations is shown only on tablets of the shop. Begin with this browser; add those on the wall later."
        ),
        "tablets:list",
        gettext_noop("Add a tablet"),
        Right.MANAGE_TABLETS,
        lambda shop: Tablet.objects.in_use().exists(),
    ),
    Kind(
        "recipe",
        gettext_noop("Enter a recipe"),
        gettext_noop("A drum is computed from its recipe: wood and lay-up, edges, finish and hardware."),
        "catalog:index",
        gettext_noop("Enter it by hand"),
        Right.EDIT_RECIPES,
        lambda shop: DrumModel.objects.filter(is_active=True).exists(),
    ),
    Kind(
        "orders",
        gettext_noop("Bring in the orders"),
        gettext_noop(
            "Import an order book from your spreadsheet, or enter one order by hand. Both begin as drafts; nothing is made yet."
        ),
        "orders:import",
        gettext_noop("Import an order book"),
        Right.EDIT_ORDERS,
        lambda shop: KitOrder.objects.exists(),
    ),
    Kind(
        "traveler",
        gettext_noop("Print the first traveler"),
        gettext_noop(
            "Open an order and release it: its drums get serial numbers, and every number is worked out. Then print all travelers."
        ),
        "orders:list",
        gettext_noop("Open the orders"),
        Right.PRINT_TRAVELERS,
        _has_paper,
    ),
)
CODES = tuple(kind.code for kind in KINDS)


def steps_for(person: Person) -> list[Step]:
    """The seven steps, in order."""
    shop = Shop.current()
    skipped = skipped_in(shop)
    return [
        Step(number, kind, kind.done(shop), kind.code in skipped, has_right(person, kind.right))
        for number, kind in enumerate(KINDS, start=1)
    ]


def is_open(shop: Shop) -> bool:
    """Whether a step is still to be done; the demo shop has none."""
    return not is_the_demo(shop) and next_open(shop) is not None


def next_open(shop: Shop) -> Kind | None:
    """The first step that is neither done nor skipped; nothing is asked about those after it."""
    skipped = skipped_in(shop)
    return next((kind for kind in KINDS if kind.code not in skipped and not kind.done(shop)), None)


def skipped_in(shop: Shop) -> frozenset[str]:
    return frozenset(shop.skipped_steps.split())


def skip(codes: frozenset[str], *, back: bool) -> None:
    """Skip steps, or take that back. Twice is once."""
    with writing():
        shop = Shop.objects.select_for_update().get(pk=Shop.current().pk)
        skipped = skipped_in(shop) - codes if back else skipped_in(shop) | codes
        shop.skipped_steps = " ".join(code for code in CODES if code in skipped)
        shop.save(update_fields=["skipped_steps"])
