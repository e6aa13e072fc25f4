"""The way back to a clean start: the demo shop, and no other, emptied and loaded anew, whole or not at all."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.core.management import CommandError, call_command
from django.db import DataError, Error, OperationalError, connection, transaction
from django.test import Client
from django.utils import timezone

from quality.models import Person, Tablet
from routing.append_only import protected_tables
from routing.models import KitOrder, Shell, ShellRecord, Shop
from shopfloor.demo.anew import NotTheDemo, load_demo_anew
from shopfloor.demo.loading import load_demo
from shopfloor.start.begin import begin_round
from tests.places import ROOT, place_for_test
from tests.shopfloor.tablets import make_tablet, page
from tests.small_shop import small_shop

ANEW = "/start/anew/"
NAME = "Ottermill Drum Works"


@pytest.fixture
def used(db: None) -> None:
    """A demo shop in which there is work on record."""
    now = timezone.now()
    load_demo(now=now, today=timezone.localdate(now))
    begin_round(by=Person.objects.get(username="greta"), now=now)
    make_tablet(Client())
    Shop.objects.update(paper_size="Letter", skipped_steps="name")


def anew() -> None:
    now = timezone.now()
    load_demo_anew(now=now, today=timezone.localdate(now))


def desk(username: str) -> Client:
    client = Client()
    client.force_login(Person.objects.get(username=username))
    return client


def assert_guarded() -> None:
    """The database itself refuses to delete a record."""
    with pytest.raises(Error), transaction.atomic():
        ShellRecord.objects.all()._raw_delete("default")


def test_it_is_as_on_the_first_day(used: None, capsys: pytest.CaptureFixture[str]) -> None:
    newest = ShellRecord.objects.order_by("pk").last()
    assert newest is not None
    guarded = protected_tables(connection)
    assert "routing_shellrecord" in guarded and len(guarded) > 10
    call_command("demo", anew=True, yes=NAME)
    assert "every-ring-closed" in capsys.readouterr().out
    assert not KitOrder.objects.exists() and not ShellRecord.objects.exists() and not Tablet.objects.exists()
    assert Person.objects.count() == 12
    shop = Shop.objects.get()
    assert (shop.is_demo, shop.paper_size, shop.skipped_steps, shop.round_order) == (True, "A4", "", "")
    assert protected_tables(connection) == guarded
    begin_round(by=Person.objects.get(username="greta"), now=timezone.now())
    assert_guarded()
    first = ShellRecord.objects.order_by("pk").first()
    assert first is not None and first.pk > newest.pk, "the number of a row is never used again"


def test_a_shop_of_ones_own_is_never_emptied(db: None) -> None:
    shop = small_shop()
    shop.released()
    with pytest.raises(NotTheDemo, match="only that is ever emptied"):
        anew()
    with pytest.raises(CommandError, match="Nothing was changed"):
        call_command("demo", anew=True, yes=NAME)
    assert Shell.objects.count() == 1


@pytest.mark.parametrize("change", [{"name": "Fernhollow Drums"}, {"serial_prefix": "FD"}, {"is_demo": False}])
def test_a_demo_that_became_somebodys_own_is_never_emptied(used: None, change: dict[str, Any]) -> None:
    Shop.objects.update(**change)
    with pytest.raises(NotTheDemo):
        anew()
    assert Shell.objects.count() == 3


def test_a_shop_that_others_reach_is_never_emptied(used: None, settings: Any) -> None:
    settings.HTTPS = True
    with pytest.raises(NotTheDemo, match="SHOP_HTTPS"):
        anew()
    answer = desk("ada").get(ANEW, secure=True)
    assert answer.status_code == 409 and "SHOP_HTTPS" in page(answer)
    assert 'name="name"' not in page(answer), "what is refused is not asked for first"
    assert Shell.objects.count() == 3


def test_what_fails_in_the_middle_leaves_all_as_it_was(used: None, monkeypatch: pytest.MonkeyPatch) -> None:
    guarded, records = protected_tables(connection), ShellRecord.objects.count()

    def broken(**_: Any) -> None:
        assert not ShellRecord.objects.exists(), "it fails when all is emptied"
        raise RuntimeError("the lights went out")

    monkeypatch.setattr("shopfloor.demo.anew.load_demo", broken)
    with pytest.raises(RuntimeError, match="the lights"), transaction.atomic():
        anew()
    assert ShellRecord.objects.count() == records
    assert protected_tables(connection) == guarded
    assert_guarded()


@pytest.mark.parametrize(
    ("error", "said"), [(OperationalError, "Somebody was working"), (DataError, "stands in the logs of the shop")]
)
def test_what_the_database_refuses_is_written_down(
    used: None,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
    error: type[Error],
    said: str,
) -> None:
    def refuses(**_: Any) -> None:
        raise error("what the database said")

    monkeypatch.setattr("shopfloor.demo.anew.load_demo", refuses)
    answer = desk("ada").post(ANEW, {"name": NAME})
    assert answer.status_code == 409 and said in page(answer) and "nothing was emptied" in page(answer)
    assert "what the database said" in caplog.text
    assert Shell.objects.count() == 3


KILLED = """
import os, signal, django
django.setup()
from django.utils import timezone
from shopfloor.demo import anew
anew.load_demo = lambda **_: os.kill(os.getpid(), signal.SIGKILL)
anew.load_demo_anew(now=timezone.now(), today=timezone.localdate())
"""
IN_WORK = """
import django
django.setup()
from django.utils import timezone
from quality.models import Person
from shopfloor.start.begin import begin_round
begin_round(by=Person.objects.get(username="greta"), now=timezone.now())
"""


def test_killed_in_the_middle_it_is_as_before(tmp_path: Path) -> None:
    with place_for_test(tmp_path / "shop") as place:
        place.must("migrate", "--verbosity", "0")
        place.must("demo")
        env = place.environment | {"DJANGO_SETTINGS_MODULE": "shopfloor.settings"}
        subprocess.run([sys.executable, "-c", IN_WORK], env=env, cwd=ROOT, check=True)
        count = "SELECT (SELECT count(*) FROM routing_shellrecord), (SELECT count(*) FROM quality_person)"
        before = place.rows(count)
        killed = subprocess.run([sys.executable, "-c", KILLED], env=env, cwd=ROOT, check=False)
        assert killed.returncode == -9
        assert place.rows(count) == before and before[0][0] > 20
        assert "records hold" in place.must("verify_records")
        with pytest.raises(Exception, match="kept as written"):
            place.rows("DELETE FROM routing_shellrecord")
        refused = place.manage("demo", "--anew")
        assert refused.returncode == 1 and f'demo --anew --yes "{NAME}"' in refused.stderr
        assert place.rows(count) == before, "nobody empties a shop without a word"
        place.must("demo", "--anew", "--yes", NAME)
        assert "emptied and loaded anew: command line, " in (place.data / "logs" / "shop.jsonl").read_text()
        assert place.rows(count) == [(0, 12)]


# The button


def test_the_administrator_types_the_name_and_begins_anew(used: None, caplog: pytest.LogCaptureFixture) -> None:
    ada = desk("ada")
    assert ANEW in page(ada.get("/start/round/"))
    assert "can't be taken back" in page(ada.get(ANEW))
    for name in ("", "yes", "Ottermill"):
        answer = ada.post(ANEW, {"name": name})
        assert answer.status_code == 422 and "Nothing was changed" in page(answer)
    assert Shell.objects.count() == 3
    assert ada.post(ANEW, {"name": "ottermill drum works "})["Location"] == "/"
    (line,) = [each for each in caplog.records if each.name == "shop.security" and "emptied" in each.message]
    assert line.message == f"The demo shop was emptied and loaded anew: {Person.objects.get(username='ada').name}"
    assert line.__dict__["address"] == "127.0.0.1"
    assert not Shell.objects.exists()
    assert "Sign out" not in page(ada.get("/")), "everybody is signed out"
    assert ada.post(ANEW, {"name": "Ottermill Drum Works"})["Location"].startswith("/sign-in/"), "twice"


def test_a_renamed_demo_has_no_such_button(used: None) -> None:
    Shop.objects.update(name="Fernhollow Drums")
    ada = desk("ada")
    assert ada.get(ANEW).status_code == 404
    assert ada.post(ANEW, {"name": "Fernhollow Drums"}).status_code == 404
    assert Shell.objects.count() == 3


def test_a_supervisor_does_not_empty_the_shop(used: None) -> None:
    greta = desk("greta")
    assert greta.get(ANEW).status_code == 403
    assert greta.post(ANEW, {"name": "Ottermill Drum Works"}).status_code == 403
    assert ANEW not in page(greta.get("/start/round/"))
