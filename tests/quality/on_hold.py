"""Shells on hold and what is decided about them: what tests of that begin from."""

from __future__ import annotations

from typing import Any

from quality.actions import sign_off
from quality.dispositions import Scrapped, regrade, rework, scrap
from quality.models import Person, Problem, SignOff
from quality.problems import report_problem
from quality.verification import verify_shell
from routing.models import DrumModel, Finish, FinishCoat, Operation, OperationState, Shell, ShellSpec, StationKind
from tests.small_shop import SmallShop

CUT, PRESS, EDGE, COAT_1, COAT_2, ASSEMBLE, FINAL, PACK = range(1, 9)


def sign(shop: SmallShop, shell: Shell, position: int, by: Person | None = None, **fields: Any) -> SignOff:
    """Sign a step once its dwell is over."""
    step = shop.step(shell, position)
    if step.not_before is not None and step.not_before > shop.clock:
        shop.clock = step.not_before
    shop.wait(minutes=10)
    final = step.station.kind == StationKind.FINAL_CHECK
    who = by or (shop.checker if final else shop.worker)
    return sign_off(
        serial=shell.serial,
        position=position,
        person=who,
        answers={},
        pin_confirmed=final,
        stamp=shop.stamp(who, **fields),
    ).sign_off


def sign_up_to(shop: SmallShop, shell: Shell, last: int) -> None:
    for step in Operation.objects.filter(shell=shell, position__lte=last).order_by("position"):
        if step.state not in (OperationState.DONE, OperationState.SKIPPED):
            sign(shop, shell, step.position)


def hold(shop: SmallShop, shell: Shell, text: str = "dent in the wood") -> Problem:
    shop.wait(minutes=5)
    step = Operation.objects.current().get(shell=shell)
    return report_problem(
        serial=shell.serial, position=step.position, person=shop.worker, text=text, stamp=shop.stamp(shop.worker)
    )


def send_back(shop: SmallShop, shell: Shell, position: int, key: str | None = None) -> Problem:
    shop.wait(minutes=5)
    return rework(
        serial=shell.serial,
        position=position,
        person=shop.supervisor,
        reason="sand it out",
        stamp=shop.stamp(shop.supervisor, key=key),
    )


def scrap_it(shop: SmallShop, shell: Shell, key: str | None = None) -> Scrapped:
    shop.wait(minutes=5)
    return scrap(
        serial=shell.serial,
        person=shop.supervisor,
        reason="split right through",
        stamp=shop.stamp(shop.supervisor, key=key),
    )


def whole(shell: Shell) -> bool:
    return list(verify_shell(Shell.objects.get(pk=shell.pk))) == []


def states(shell: Shell) -> list[str]:
    return list(Operation.objects.filter(shell=shell).order_by("position").values_list("state", flat=True))


def other_finish(name: str = "Heron gloss", coats: tuple[str, ...] = ("clear 1", "clear 2", "clear 3")) -> Finish:
    finish = Finish.objects.create(name=name, kind="lacquer", gloss_target_gu=85)
    for n, coat in enumerate(coats, start=1):
        FinishCoat.objects.create(
            finish=finish,
            position=n,
            name=coat,
            stage="clear",
            wet_film_um=100,
            volume_solids_pct=35,
            base_dwell_h=3,
        )
    return finish


def regraded(shop: SmallShop, shell: Shell, finish: Finish, model: DrumModel | None = None, **stamp: Any) -> ShellSpec:
    shop.wait(minutes=5)
    return regrade(
        serial=shell.serial,
        model=model or shop.model,
        finish=finish,
        person=shop.supervisor,
        reason="colour can't be matched",
        stamp=shop.stamp(shop.supervisor, **stamp),
    )
