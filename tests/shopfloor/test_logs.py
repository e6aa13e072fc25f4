"""One number for each request, in its answer, in the logs and on the page of an error; logs that stay small."""

from __future__ import annotations

import json
import logging
import multiprocessing
import re
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings as shop_settings
from django.db import connection
from django.test import Client

from shopfloor.log_files import Readable, SharedFile
from tests.small_shop import SmallShop

LOGS = Path(shop_settings.LOGS)


def lines(name: str) -> list[str]:
    path = LOGS / name
    return path.read_text(encoding="utf-8").splitlines() if path.exists() else []


@pytest.mark.parametrize("given", ["proxy-0123456789", "a" * 64])
def test_the_number_of_a_proxy_is_kept(client: Client, given: str) -> None:
    assert client.get("/health/live/", headers={"X-Request-ID": given})["X-Request-ID"] == given


@pytest.mark.parametrize("given", ["", "short", "a" * 65, "with space 123", "line\nbreak-123", "é" * 10])
def test_what_is_no_number_gets_one(client: Client, given: str) -> None:
    numbers = {client.get("/health/live/", HTTP_X_REQUEST_ID=given)["X-Request-ID"] for _ in range(2)}
    assert len(numbers) == 2 and all(re.fullmatch("[0-9a-f]{32}", number) for number in numbers)


def test_an_error_shows_its_number_and_the_reason_stands_beside_it_in_the_log(
    shop: SmallShop, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*args: Any, **kwargs: Any) -> Any:
        raise RuntimeError("the saw\nERROR made up")

    monkeypatch.setattr("shopfloor.home.views.render", broken)
    client = Client(raise_request_exception=False)
    answer = client.get("/")
    number = answer["X-Request-ID"]
    page = answer.content.decode()
    assert answer.status_code == 500 and number in page and "the saw" not in page
    said = "\n".join(lines("errors.log"))
    assert f"[{number}] django.request: Internal Server Error: /" in said
    assert "RuntimeError: the saw" in said.partition(number)[2]
    assert not [line for line in lines("errors.log") if line.startswith("ERROR made up")]
    (record,) = [json.loads(line) for line in lines("shop.jsonl") if number in line]
    assert record["level"] == "ERROR" and record["status_code"] == 500 and "RuntimeError" in record["error"]


@pytest.mark.django_db
def test_pages_of_refusals_show_it(client: Client) -> None:
    answer = client.get("/nothing/here/")
    assert answer.status_code == 404 and answer["X-Request-ID"] in answer.content.decode()


def test_who_came_in_and_who_was_turned_away_is_written_without_what_was_typed(shop: SmallShop) -> None:
    client = Client()
    for name, password in (
        ("sam-supervisor", "not it at all"),
        ("my long pass phrase", "x"),
        ("sam-supervisor", "a long pass phrase"),
    ):
        number = client.post("/sign-in/", {"username": name, "password": password})["X-Request-ID"]
    found = [json.loads(line) for line in lines("shop.jsonl") if "shop.security" in line][-3:]
    assert [line["message"] for line in found] == [
        "Wrong password for the office: Sam Supervisor",
        "Wrong password for the office: a user name that nobody has",
        "Signed in to the office: Sam Supervisor",
    ]
    assert found[-1]["request_id"] == number and found[-1]["address"] == "127.0.0.1"
    assert "pass phrase" not in "\n".join(lines("shop.jsonl"))


@pytest.mark.django_db
def test_slow_statements_stand_in_a_log_of_their_own_without_their_values(settings: Any) -> None:
    statement = "SELECT %s || 'for the test'"
    with connection.cursor() as cursor:
        cursor.execute(statement, ["secret "])
        assert not [line for line in lines("slow.log") if "for the test" in line]
        settings.SLOW_QUERY_MS = 0
        cursor.execute(statement, ["secret "])
    (line,) = [line for line in lines("slow.log") if "for the test" in line]
    assert re.search(r"shop.slow: \d+ ms: SELECT", line) and "secret" not in line
    (line,) = [line for line in lines("shop.jsonl") if "for the test" in line]  # which has everything
    assert json.loads(line)["milliseconds"] >= 0 and "secret" not in line


def _write(path: Path, who: int) -> None:
    handler = SharedFile(path, max_bytes=4000, keep=50)
    handler.setFormatter(logging.Formatter("%(message)s"))
    for n in range(200):
        handler.emit(logging.LogRecord("x", logging.INFO, "", 0, f"writer {who} line {n:03}", None, None))


def test_processes_that_write_at_once_lose_no_line(tmp_path: Path) -> None:
    path = tmp_path / "logs" / "shared.log"
    writers = [multiprocessing.get_context("fork").Process(target=_write, args=(path, who)) for who in range(3)]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()
    files = [file for file in path.parent.iterdir() if not file.name.endswith(".lock")]
    found = [line for file in files for line in file.read_text().splitlines()]
    assert sorted(found) == sorted(f"writer {who} line {n:03}" for who in range(3) for n in range(200))
    assert len(files) > 2 and all(file.stat().st_size <= 4000 for file in files)
    assert {file.stat().st_mode & 0o777 for file in path.parent.iterdir()} == {0o600}


def test_old_files_go(tmp_path: Path) -> None:
    handler = SharedFile(tmp_path / "small.log", max_bytes=100, keep=2)
    handler.setFormatter(Readable())
    for n in range(40):
        handler.emit(logging.LogRecord("x", logging.INFO, "", 0, f"line {n}", None, None))
    kept = sorted(file.name for file in tmp_path.iterdir())
    assert kept == ["small.log", "small.log.1", "small.log.2", "small.log.lock"]
    assert "line 39" in (tmp_path / "small.log").read_text()


def test_what_a_browser_sends_begins_no_line_of_its_own() -> None:
    record = logging.LogRecord("x", logging.WARNING, "", 0, "Not Found: %s", ("/a\r\n2026-01-01 ERROR made up",), None)
    assert Readable().format(record).count("\n") == 0
