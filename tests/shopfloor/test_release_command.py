"""Releasing on the command line: progress of a large order, and a release that is killed half-way."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys

import pytest
from django.core.management import CommandError, call_command
from django.db import connection

from quality.verification import verify_shell
from routing.models import KitOrder, Operation, OrderState, SerialCounter, Shell, ShellRecord, ShellSpec
from routing.release import AT_A_TIME
from tests.small_shop import SmallShop

QUANTITY = 3 * AT_A_TIME + 1
# Another program on the same database, killed by the hardest signal as soon as two batches are written.
KILLED = """
import os, signal, sys
import django
django.setup()
from django.core.management import call_command
from django.db import connection
from shopfloor.management.commands.release import Command
connection.settings_dict["NAME"] = sys.argv[1]
say = Command._say
def say_and_die(self, written, shells):
    say(self, written, shells)
    self.stderr.flush()
    if written >= int(sys.argv[2]):
        os.kill(os.getpid(), signal.SIGKILL)
Command._say = say_and_die
call_command("release", "K-1")
"""


@pytest.mark.django_db
def test_a_large_order_says_how_far_it_is(shop: SmallShop, capsys: pytest.CaptureFixture[str]) -> None:
    shop.order("K-1", quantity=QUANTITY)
    shop.order("K-2", quantity=AT_A_TIME)
    call_command("release", "K-1")
    said = capsys.readouterr()
    steps = [f"… {n} of {QUANTITY}" for n in (AT_A_TIME, 2 * AT_A_TIME, 3 * AT_A_TIME, QUANTITY)]
    assert said.err.splitlines() == steps
    serials = re.findall(r"^SS26\w+", said.out, re.MULTILINE)
    assert len(set(serials)) == QUANTITY
    assert f"Order K-1 is released with {QUANTITY} shells." in said.out
    call_command("release", "K-2")
    assert capsys.readouterr().err == ""  # a small one has no need to


@pytest.mark.django_db
def test_a_second_release_changes_nothing(shop: SmallShop) -> None:
    shop.released("K-1", quantity=2)
    with pytest.raises(CommandError, match="nothing was changed"):
        call_command("release", "K-1")
    assert Shell.objects.count() == 2
    with pytest.raises(CommandError, match="no order K-9"):
        call_command("release", "K-9")


@pytest.mark.django_db(transaction=True)
def test_a_release_that_is_killed_leaves_nothing_and_runs_again(
    shop: SmallShop, capsys: pytest.CaptureFixture[str]
) -> None:
    shop.released("K-0", quantity=2)
    shop.order("K-1", quantity=QUANTITY)
    counter = SerialCounter.objects.get().last
    killed = subprocess.run(
        [sys.executable, "-c", KILLED, str(connection.settings_dict["NAME"]), str(2 * AT_A_TIME)],
        env=os.environ | {"DJANGO_SETTINGS_MODULE": "shopfloor.settings"},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert killed.returncode == -signal.SIGKILL, killed.stderr
    assert f"… {2 * AT_A_TIME} of {QUANTITY}" in killed.stderr  # so many were written when it died
    assert KitOrder.objects.get(number="K-1").state == OrderState.DRAFT
    assert [table.objects.count() for table in (Shell, ShellSpec, ShellRecord)] == [2, 2, 2]
    assert not Operation.objects.filter(shell__order__number="K-1").exists()
    assert SerialCounter.objects.get().last == counter
    call_command("release", "K-1")
    assert f"… {QUANTITY} of {QUANTITY}" in capsys.readouterr().err
    assert KitOrder.objects.get(number="K-1").state == OrderState.RELEASED
    made = list(Shell.objects.filter(order__number="K-1"))
    assert len({shell.serial for shell in made}) == QUANTITY
    assert all(shell.operations.count() == 8 for shell in made)
    assert all(list(verify_shell(shell)) == [] for shell in made[:: AT_A_TIME // 2])
