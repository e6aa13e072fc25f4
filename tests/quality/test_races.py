"""Two people at once, with real threads and real transactions: one outcome and a clear message."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable
from typing import Any

import pytest
from django.db import close_old_connections, connection

from quality.accounts import save_person
from quality.actions import sign_off, withdraw_sign_off
from quality.dispositions import rework, scrap, use_as_is
from quality.errors import QualityError
from quality.models import Person, Problem, Role, SignOff, Withdrawal, WrongTries
from quality.passwords import one_try
from quality.problems import report_problem
from quality.verification import verify_shell
from routing.errors import RoutingError
from routing.models import KitLine, KitOrder, Operation, Shell, ShellRecord
from routing.order_book import import_order_book, read_order_book
from routing.release import release_order
from tests.quality.on_hold import hold, sign_up_to
from tests.small_shop import SmallShop, small_shop

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def shop(transactional_db: None) -> SmallShop:
    return small_shop()


def at_once(*deeds: Callable[[], object]) -> Counter[str]:
    """Do all deeds in threads that start together; count how they ended: ``done`` or the code of the refusal."""
    outcomes: list[str] = []
    start = threading.Barrier(len(deeds))

    def run(deed: Callable[[], object]) -> None:
        close_old_connections()
        start.wait()
        try:
            deed()
            outcomes.append("done")
        except (RoutingError, QualityError) as refused:
            outcomes.append(refused.code)
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=(deed,)) for deed in deeds]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=60)
    assert len(outcomes) == len(deeds), "a thread died of something else than a refusal"
    return Counter(outcomes)


def signing(shop: SmallShop, shell: Shell, position: int, key: str) -> Callable[[], object]:
    stamp = shop.stamp(shop.worker, key=key)
    return lambda: sign_off(serial=shell.serial, position=position, person=shop.worker, answers={}, stamp=stamp)


def test_many_tablets_sign_one_step(shop: SmallShop) -> None:
    shell = shop.released()[0]
    outcomes = at_once(*[signing(shop, shell, 1, f"key {n}") for n in range(6)])
    assert outcomes == {"done": 1, "already_done": 5}
    assert SignOff.objects.count() == 1
    shell.refresh_from_db()
    assert list(verify_shell(shell)) == []


def test_one_tap_arrives_many_times_at_once(shop: SmallShop) -> None:
    shell = shop.released()[0]
    assert at_once(*[signing(shop, shell, 1, "same key")] * 5) == {"done": 5}
    assert SignOff.objects.count() == 1


def test_twelve_shells_are_signed_side_by_side(shop: SmallShop) -> None:
    shells = shop.released(quantity=12)
    assert at_once(*[signing(shop, shell, 1, shell.serial) for shell in shells]) == {"done": 12}
    for shell in Shell.objects.all():
        assert list(verify_shell(shell)) == []


def test_sign_while_somebody_holds(shop: SmallShop) -> None:
    shell = shop.released()[0]
    hold = shop.stamp(shop.checker, key="hold")
    outcomes = at_once(
        signing(shop, shell, 1, "sign"),
        lambda: report_problem(serial=shell.serial, position=1, person=shop.checker, text="split", stamp=hold),
    )
    # Either order is right: signed and then held at the next step, or held and the signature refused.
    assert outcomes in ({"done": 2}, {"done": 1, "on_hold": 1})
    assert Operation.objects.filter(shell=shell, state="on_hold").count() == 1
    shell.refresh_from_db()
    assert list(verify_shell(shell)) == []


def test_withdraw_while_the_next_step_is_signed(shop: SmallShop) -> None:
    shell = shop.released()[0]
    signing(shop, shell, 1, "first")()
    back = shop.stamp(shop.worker, key="back")
    outcomes = at_once(
        signing(shop, shell, 2, "second"),
        lambda: withdraw_sign_off(serial=shell.serial, position=1, person=shop.worker, stamp=back),
    )
    assert outcomes in ({"done": 1, "work_went_on": 1}, {"done": 1, "not_its_turn": 1})
    assert SignOff.objects.standing().count() in (0, 2)
    assert Withdrawal.objects.count() == (0 if SignOff.objects.standing().count() == 2 else 1)
    shell.refresh_from_db()
    assert list(verify_shell(shell)) == []


def test_release_twice_at_once(shop: SmallShop) -> None:
    shop.order(quantity=3)
    stamp = shop.stamp(shop.supervisor)
    outcomes = at_once(*[lambda: release_order(number="K-1", stamp=stamp)] * 3)
    assert outcomes == {"done": 1, "already_released": 2}
    assert Shell.objects.count() == 3
    assert ShellRecord.objects.count() == 3


def test_two_imports_of_one_file_at_once(shop: SmallShop) -> None:
    text = "order number,customer,due date,drum code,finish,quantity\n" + "".join(
        f"B-{number},Tarn,2026-12-24,{shop.model.code},{shop.finish.name},2\n" for number in range(3)
    )
    today = shop.clock.date()
    made: list[int] = []

    def bring_in() -> None:
        book = read_order_book(text.encode(), today=today)
        made.append(len(import_order_book(book, stamp=shop.stamp(shop.supervisor), today=today).created))

    assert at_once(*[bring_in] * 4) == {"done": 4}
    assert sorted(made) == [0, 0, 0, 3], "one brings them in, the others find them here"
    assert KitOrder.objects.count() == KitLine.objects.count() == 3


def test_final_check_while_a_rework_is_decided(shop: SmallShop) -> None:
    """The drum is held at its final check; one supervisor sends it back while the checker signs it as good."""
    shell = shop.released()[0]
    final = Operation.objects.get(shell=shell, station__kind="final_check").position
    sign_up_to(shop, shell, final - 1)
    hold(shop, shell, "run in the lacquer")
    outcomes = at_once(
        lambda: sign_off(
            serial=shell.serial,
            position=final,
            person=shop.checker,
            answers={},
            stamp=shop.stamp(shop.checker, key="check"),
        ),
        lambda: rework(
            serial=shell.serial,
            position=4,
            person=shop.supervisor,
            reason="sand it and coat it again",
            stamp=shop.stamp(shop.supervisor, key="back"),
        ),
    )
    assert outcomes in ({"done": 1, "on_hold": 1}, {"done": 1, "not_its_turn": 1})
    assert shop.step(shell, 4).state == "ready" and shop.step(shell, final).state == "waiting"
    assert not SignOff.objects.standing().filter(operation__position__gte=4).exists()
    shell.refresh_from_db()
    assert list(verify_shell(shell)) == []


def test_different_orders_get_different_serials(shop: SmallShop) -> None:
    numbers = ["K-1", "K-2", "K-3", "K-4"]
    for number in numbers:
        shop.order(number, quantity=5)
    stamp = shop.stamp(shop.supervisor)
    assert at_once(*[lambda n=number: release_order(number=n, stamp=stamp) for number in numbers]) == {"done": 4}
    assert Shell.objects.values("serial").distinct().count() == 20


def test_two_supervisors_decide_about_one_shell(shop: SmallShop) -> None:
    shell = shop.released()[0]
    report_problem(serial=shell.serial, position=1, person=shop.worker, text="split", stamp=shop.stamp(shop.worker))
    common: dict[str, Any] = {"serial": shell.serial, "person": shop.supervisor, "reason": "as agreed"}
    outcomes = at_once(
        lambda: scrap(**common, stamp=shop.stamp(shop.supervisor, key="first")),
        lambda: scrap(**common, stamp=shop.stamp(shop.supervisor, key="second")),
        lambda: rework(position=1, **common, stamp=shop.stamp(shop.supervisor, key="third")),
        lambda: use_as_is(allowed_by="the customer", **common, stamp=shop.stamp(shop.supervisor, key="fourth")),
    )
    assert outcomes["done"] == 1
    assert set(outcomes) <= {"done", "not_on_hold", "shell_gone"}
    assert Problem.objects.get().state == "settled"
    assert Shell.objects.filter(replaces=shell).count() == (Problem.objects.get().disposition == "scrap")
    for each in Shell.objects.all():
        assert list(verify_shell(each)) == []


def test_one_scrapping_that_arrives_many_times_makes_one_replacement(shop: SmallShop) -> None:
    shell = shop.released()[0]
    report_problem(serial=shell.serial, position=1, person=shop.worker, text="split", stamp=shop.stamp(shop.worker))
    stamp = shop.stamp(shop.supervisor, key="same key")

    def again() -> object:
        return scrap(serial=shell.serial, person=shop.supervisor, reason="split", stamp=stamp)

    assert at_once(*[again] * 4) == {"done": 4}
    assert Shell.objects.filter(replaces=shell).count() == 1


def test_right_sign_ins_side_by_side_are_none_of_them_counted(shop: SmallShop) -> None:
    """Each deletes the account's count when it is right, just when the next one wants to count there."""

    def sign_in() -> None:
        for _ in range(25):
            with one_try(username="own", address="192.0.2.7", browser="", at=shop.clock) as was_right:
                was_right()

    assert at_once(*[sign_in] * 4) == {"done": 4}
    assert [(row.counts, row.failed) for row in WrongTries.objects.all()] == [("address", 0)]


def test_two_administrators_who_take_the_role_from_each_other_leave_one(shop: SmallShop) -> None:
    two = [Person.objects.create_user(name, name=name, role=Role.ADMINISTRATOR) for name in ("ada", "alf")]

    def demoting(editor: Person, other: Person) -> Callable[[], object]:
        seen = Person.objects.get(pk=other.pk)
        seen.role = Role.WORKER
        return lambda: save_person(person=seen, version=0, by=editor, at=shop.clock)

    assert at_once(demoting(two[0], two[1]), demoting(two[1], two[0])) == {"done": 1, "only_administrator": 1}
    assert Person.objects.filter(role=Role.ADMINISTRATOR).count() == 1


def test_one_user_name_is_given_once(shop: SmallShop) -> None:
    def making() -> object:
        return save_person(person=Person(name="Nell", username="nell"), version=0, by=shop.supervisor, at=shop.clock)

    assert at_once(*[making] * 4) == {"done": 1, "username_taken": 3}
    assert Person.objects.get(username="nell").account_changes.count() == 1
