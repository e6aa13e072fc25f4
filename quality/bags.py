"""The bags of a drum: what its frozen parts list wants in each, what it should weigh, and how each stands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from django.db.models import F
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from quality.models import Bag, BagState
from routing.models import Shell, ShellSpec
from routing.spec_words import spoken

LOOSE = ""  # what comes in no bag
LOOSE_TITLE = "Loose parts"


class BagStand(StrEnum):
    TO_FILL = "to fill"
    TO_CHECK = "filled, to check"
    CHECKED = "checked"
    STALE = "fill again"


@dataclass(frozen=True, slots=True)
class BagLine:
    name: str
    quantity: int
    spare: int

    @property
    def body(self) -> dict[str, Any]:
        return {"name": self.name, "quantity": self.quantity, "spare": self.spare}


@dataclass(frozen=True, slots=True)
class Window:
    """What the bag weighs, g, and whether a scale can tell that one piece is missing."""

    low_g: float
    high_g: float
    finds_one_missing: bool
    advice: str


@dataclass(frozen=True, slots=True)
class BagOfDrum:
    """One bag as the parts list wants it, with what stands of it. ``bag`` is None until it is filled."""

    place: int  # 1 is the first of the list; the loose parts come last
    of: int  # bags of the drum, without the loose parts
    name: str
    revision: int  # of the spec whose list this is
    contents: tuple[BagLine, ...]
    window: Window | None
    bag: Bag | None
    stood_before: bool  # it was filled and opened again

    @property
    def is_loose(self) -> bool:
        return self.name == LOOSE

    @property
    def title(self) -> str:
        return LOOSE_TITLE if self.is_loose else self.name

    @property
    def in_words(self) -> str:
        """At the beginning of a sentence: “Bag “rods””, “The tray of loose parts”."""
        return bag_words(self.name)

    @property
    def state(self) -> BagStand:
        if self.bag is None:
            return BagStand.TO_FILL
        if self.bag.spec_revision != self.revision:
            return BagStand.STALE
        return BagStand.CHECKED if self.bag.state == BagState.CHECKED else BagStand.TO_CHECK

    @property
    def seen(self) -> str:
        """Which list and which filling a page shows; its forms send it back, so that nobody acts on another."""
        return f"{self.revision}-{self.bag.attempt if self.bag else 0}"

    @property
    def pieces(self) -> int:
        return sum(line.quantity for line in self.contents)

    @property
    def spares(self) -> int:
        return sum(line.spare for line in self.contents)

    @property
    def may_weigh(self) -> bool:
        return self.window is not None and self.window.finds_one_missing

    @property
    def stale_sentence(self) -> str:
        assert self.bag is not None
        return _(
            "{bag} was filled by the parts list of spec revision {old}; the drum has revision {revision} now. "
            "Open it again and fill it by the new list."
        ).format(bag=self.in_words, old=self.bag.spec_revision, revision=self.revision)


def bag_words(name: str) -> str:
    return _("Bag “{name}”").format(name=name) if name else _("The tray of loose parts")


def bag_within(name: str) -> str:
    """The same within a sentence."""
    return _("bag “{name}”").format(name=name) if name else _("the tray of loose parts")


def bags_of(shell: Shell) -> list[BagOfDrum]:
    """The bags of a drum in the order of its parts list, the loose parts last. Two queries."""
    return bags_of_shells([shell])[shell.pk]


def bags_of_shells(shells: Iterable[Shell]) -> dict[int, list[BagOfDrum]]:
    """The same for many drums, by their ids; still two queries, and of each spec only what is needed here."""
    ids = [shell.pk for shell in shells]
    standing: dict[tuple[int, str], Bag] = {}
    before: set[tuple[int, str]] = set()
    for bag in Bag.objects.filter(shell__in=ids).select_related("filled_by", "checked_by", "shell"):
        if bag.state == BagState.OPENED:
            before.add((bag.shell_id, bag.name))
        else:
            standing[bag.shell_id, bag.name] = bag
    lists: dict[int, list[BagOfDrum]] = {pk: [] for pk in ids}
    specs = ShellSpec.objects.filter(shell__in=ids, revision=F("shell__spec_revision")).values_list(
        "shell_id", "revision", "results__hardware__pick_list", "results__mass__bags"
    )
    for shell_id, revision, lines, masses in specs:
        windows = {each["bag"]: _window(each) for each in masses or []}
        by_bag: dict[str, list[BagLine]] = {}
        for line in lines or []:
            by_bag.setdefault(line["bag"], []).append(BagLine(line["name"], int(line["quantity"]), int(line["spare"])))
        of = len([name for name in by_bag if name != LOOSE])
        lists[shell_id] = [
            BagOfDrum(
                place=place,
                of=of,
                name=name,
                revision=revision,
                contents=tuple(contents),
                window=windows.get(name),
                bag=standing.get((shell_id, name)),
                stood_before=(shell_id, name) in before,
            )
            for place, (name, contents) in enumerate(by_bag.items(), start=1)
        ]
    return lists


def missing_among(serial: str, bags: Sequence[BagOfDrum]) -> list[str]:
    """What keeps a drum's bags out of a carton, a sentence for each thing to do; nothing when all are checked.

    Not asked of the loose parts: they are on the drum by then, and the final check counts them.
    """
    asked = [each for each in bags if not each.is_loose]
    sentences = []
    if to_fill := [each.name for each in asked if each.state == BagStand.TO_FILL]:
        said = ngettext("{bags} of {serial} is not filled.", "{bags} of {serial} are not filled.", len(to_fill))
        sentences.append(said.format(bags=_bags_words(to_fill), serial=serial))
    if to_check := [each.name for each in asked if each.state == BagStand.TO_CHECK]:
        said = ngettext(
            "{bags} of {serial} is filled, but nobody checked it.",
            "{bags} of {serial} are filled, but nobody checked them.",
            len(to_check),
        )
        sentences.append(said.format(bags=_bags_words(to_check), serial=serial))
    return sentences + [f"{serial}: {each.stale_sentence}" for each in asked if each.state == BagStand.STALE]


def _bags_words(names: Sequence[str]) -> str:
    if len(names) == 1:
        return bag_words(names[0])
    said = _("Bags {names} and “{last}”")
    return said.format(names=", ".join(_("“{name}”").format(name=name) for name in names[:-1]), last=names[-1])


def must_be_counted(asked: BagOfDrum) -> str:
    if asked.is_loose:
        return _("Loose parts are counted, not weighed.")
    if asked.window is None:
        return _("The spec gives no weight for this bag; count it.")
    return spoken(asked.window.advice)


def _window(mass: Mapping[str, Any]) -> Window:
    return Window(float(mass["low_g"]), float(mass["high_g"]), bool(mass["finds_one_missing"]), str(mass["advice"]))
