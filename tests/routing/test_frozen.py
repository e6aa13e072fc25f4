"""The frozen spec that a process keeps."""

from __future__ import annotations

import pytest
from django.db import connection, transaction
from django.test.utils import CaptureQueriesContext

from quality.actions import measure_plates
from routing import frozen
from routing.frozen import current_spec
from routing.models import Shell, ShellSpec
from tests.small_shop import SmallShop

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture(autouse=True)
def nothing_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(frozen, "_kept", type(frozen._kept)())


def test_it_is_read_once_and_is_what_stands_in_the_database(shop: SmallShop) -> None:
    (shell,) = shop.released()
    first = current_spec(shell)
    with CaptureQueriesContext(connection) as caught:
        again = current_spec(shell)
    assert not caught.captured_queries
    (stored,) = ShellSpec.objects.filter(shell=shell)
    for spec in (first, again):
        assert spec == stored
        assert (spec.inputs, spec.results, spec.issued_at) == (stored.inputs, stored.results, stored.issued_at)


def test_a_new_revision_is_another_spec(shop: SmallShop) -> None:
    (shell,) = shop.released()
    before = current_spec(shell)
    measured = dict.fromkeys(range(1, len(before.inputs["plates"]) + 1), 3.05)
    measure_plates(
        serial=shell.serial,
        measured_mm=measured,
        person=shop.worker,
        station=shop.stations["cut"],
        stamp=shop.stamp(shop.worker),
    )
    shell = Shell.objects.get(pk=shell.pk)
    after = current_spec(shell)
    assert (before.revision, after.revision) == (1, 2)
    assert after.results != before.results


def test_what_was_made_in_a_transaction_that_failed_is_forgotten(shop: SmallShop) -> None:
    with pytest.raises(RuntimeError), transaction.atomic():
        (shell,) = shop.released()
        assert current_spec(shell).revision == 1
        raise RuntimeError
    assert not frozen._kept
    with pytest.raises(ShellSpec.DoesNotExist, match="has no spec of revision 1"):
        current_spec(shell)


def test_so_many_are_kept_and_no_more(shop: SmallShop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(frozen, "MOST", 2)
    shells = shop.released(quantity=3)
    for shell in shells:
        current_spec(shell)
    with CaptureQueriesContext(connection) as caught:
        current_spec(shells[2])
        assert not caught.captured_queries
        current_spec(shells[0])
    assert len(caught.captured_queries) == 1


def asked_again(shell: Shell) -> bool:
    with CaptureQueriesContext(connection) as caught:
        current_spec(shell)
    return bool(caught.captured_queries)


def test_what_is_used_stays_and_what_was_not_used_longest_goes(
    shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(frozen, "MOST", 2)
    first, second, third = shop.released(quantity=3)
    for shell in (first, second, first, third):
        current_spec(shell)
    assert not asked_again(first)
    assert asked_again(second)


def test_one_that_another_thread_threw_away_meanwhile_is_returned_all_the_same(
    shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Emptied(type(frozen._kept)):  # type: ignore[misc]
        def get(self, key: object, default: object = None) -> object:
            found = super().get(key, default)
            self.clear()
            return found

    (shell,) = shop.released()
    spec = current_spec(shell)
    monkeypatch.setattr(frozen, "_kept", Emptied(frozen._kept))
    assert not asked_again(shell)
    assert not frozen._kept
    assert current_spec(shell) == spec


def test_the_drum_of_another_database_in_the_same_place_is_another(shop: SmallShop) -> None:
    """As after a backup was put back under a running server: the same number of a row, another serial."""
    first, second = shop.released(quantity=2)
    current_spec(first)
    stranger = Shell.objects.get(pk=first.pk)
    stranger.serial = second.serial
    assert asked_again(stranger)
