"""What surrounds the program: set-up, the server, the container files, the contracts."""

from __future__ import annotations

import http.client
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import tomllib
from pathlib import Path
from typing import Any

import pytest
import yaml
from django.db import connection

from tests import database

ROOT = Path(__file__).resolve().parent.parent
PROJECT: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text())
BASH = shutil.which("bash") or "/bin/bash"


class TestDatabaseOfARun:
    def test_it_is_the_one_that_was_asked_for(self, db: None) -> None:
        asked = {"sqlite": "sqlite", "postgres": "postgresql"}[os.environ.get("SHOP_TEST_DB", "sqlite")]
        assert connection.vendor == asked

    @pytest.mark.parametrize("wrong", ["mysql", "", "Postgres"])
    def test_an_unknown_one_is_refused(self, wrong: str) -> None:
        ended = subprocess.run(
            [sys.executable, "-m", "pytest", "-n0", "tests/test_packages.py", "-k", "test_both_agree"],
            env=os.environ | {"SHOP_TEST_DB": wrong, "PYTEST_ADDOPTS": ""} | without_xdist(),
            cwd=ROOT,
            capture_output=True,
            text=True,
            check=False,
        )
        assert ended.returncode != 0
        assert "Choose sqlite or postgres" in ended.stderr
        assert "passed" not in ended.stdout

    def test_no_server_no_run(self, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
        monkeypatch.setattr(database, "SERVERS", tmp_path)
        monkeypatch.setenv("PATH", str(tmp_path))
        with pytest.raises(pytest.UsageError, match="apt-get install postgresql"):
            database._throwaway_server()

    def test_another_database_does_not_pass_for_postgres(self, monkeypatch: pytest.MonkeyPatch) -> None:
        for name, value in (without_xdist() | {"SHOP_TEST_DB": "postgres", "DATABASE_URL": "sqlite:///x"}).items():
            monkeypatch.setenv(name, value)
        monkeypatch.delenv("PYTEST_XDIST_WORKER", raising=False)
        monkeypatch.setenv("SHOP_DATA", os.environ["SHOP_DATA"])
        with pytest.raises(pytest.UsageError, match="postgres://"):
            database.pytest_load_initial_conftests()


def without_xdist() -> dict[str, str]:
    """For a pytest inside a test: it is nobody's worker."""
    return {name: "" for name in os.environ if name.startswith("PYTEST_XDIST")}


def test_no_browser_no_run(tmp_path: Path) -> None:
    ended = subprocess.run(
        [sys.executable, "-m", "pytest", "-n0", "tests/browser/test_start.py"],
        env=os.environ | {"PATH": str(tmp_path), "SHOP_TEST_DB": "sqlite", "PYTEST_ADDOPTS": ""} | without_xdist(),
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert ended.returncode == 1
    assert "apt-get install chromium" in ended.stdout
    assert "passed" not in ended.stdout


class TestSystem:
    """What `make` says on a machine where it may not install anything."""

    def system(self, tmp_path: Path, *parts: str) -> subprocess.CompletedProcess[str]:
        """Run on a machine where the account is no root's and no library, font, server or browser is to be found."""
        stubs = {"id": "echo 1000", "ldconfig": ":", "fc-list": ":"}
        for name, body in stubs.items():
            (tmp_path / name).write_text(f"#!{BASH}\n{body}\n")
            (tmp_path / name).chmod(0o755)
        for name in ("dirname", "grep", "bash"):
            (tmp_path / name).symlink_to(shutil.which(name) or "")
        script = (ROOT / ".ci" / "system").read_text()
        # The folders of the real machine are out of sight.
        for folder in ("/usr/share/fonts", "/usr/lib/postgresql", ":/usr/sbin:/sbin"):
            assert folder in script
            script = script.replace(folder, "/nowhere")
        (tmp_path / ".ci").mkdir()
        (tmp_path / ".ci" / "system").write_text(script)
        return subprocess.run(
            [BASH, tmp_path / ".ci" / "system", *parts],
            env={"PATH": str(tmp_path)},
            capture_output=True,
            text=True,
            check=False,
        )

    def test_tests_stop_and_name_the_command(self, tmp_path: Path) -> None:
        ended = self.system(tmp_path, "postgres", "browser")
        assert ended.returncode == 1
        assert "apt-get install postgresql chromium libatomic1" in ended.stderr

    def test_the_shop_opens_without_printing(self, tmp_path: Path) -> None:
        ended = self.system(tmp_path, "printing")
        assert ended.returncode == 0
        assert "apt-get install libpango-1.0-0 libpangoft2-1.0-0 fonts-dejavu-core" in ended.stderr
        assert "everything works but printing" in ended.stderr

    def test_an_unknown_part_is_a_mistake(self, tmp_path: Path) -> None:
        assert self.system(tmp_path, "plotter").returncode == 2


class TestServer:
    """`make run`, but for the set-up."""

    @pytest.fixture
    def environment(self, tmp_path: Path) -> dict[str, str]:
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        environment = {name: value for name, value in os.environ.items() if name != "DATABASE_URL"}
        return environment | {"SHOP_DATA": str(tmp_path), "HOST": "127.0.0.1", "PORT": str(port), "WORKERS": "2"}

    def manage(self, environment: dict[str, str], *command: str) -> str:
        ended = subprocess.run(
            [sys.executable, "manage.py", *command],
            env=environment,
            cwd=ROOT,
            check=False,
            capture_output=True,
            text=True,
        )
        assert ended.returncode == 0, ended.stderr
        return ended.stdout

    def check(self, environment: dict[str, str]) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [BASH, ".ci/serve", "check"], env=environment, cwd=ROOT, capture_output=True, text=True, check=False
        )

    def get(self, environment: dict[str, str], path: str) -> tuple[int, str]:
        connected = http.client.HTTPConnection(environment["HOST"], int(environment["PORT"]), timeout=10)
        try:
            connected.request("GET", path)
            answer = connected.getresponse()
            return answer.status, answer.read().decode()
        finally:
            connected.close()

    def test_it_opens_and_closes(self, environment: dict[str, str]) -> None:
        self.manage(environment, "migrate", "--verbosity", "0")
        self.manage(environment, "collectstatic", "--no-input", "--verbosity", "0")
        server = subprocess.Popen(
            [BASH, ".ci/serve"],
            env=environment,
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        )
        try:
            assert server.stdout is not None
            said = ""
            while "The shop is open" not in said:
                line = server.stdout.readline()
                assert line, f"the server ended:\n{said}"
                said += line
            assert f"http://127.0.0.1:{environment['PORT']}/" in said
            status, page = self.get(environment, "/")
            assert status == 200
            stylesheet = re.search(r'href="(/static/[^"]+\.css)"', page)
            assert stylesheet, "the start page names no stylesheet"
            assert self.get(environment, stylesheet[1])[0] == 200
            taken = self.check(environment)
            assert taken.returncode == 1
            assert "Choose another: PORT=8080 make run" in taken.stderr
        finally:
            os.killpg(server.pid, signal.SIGINT)  # Ctrl-C reaches everybody at the terminal
            rest, _ = server.communicate(timeout=90)  # a busy machine takes its time
        assert server.returncode == 0
        assert "The shop is closed." in rest
        assert "Traceback" not in rest
        assert self.check(environment).returncode == 0, "the port is still taken"

    @pytest.mark.parametrize("port", ["http", "0", "65536", "-1", ""])
    def test_a_port_that_is_none(self, environment: dict[str, str], port: str) -> None:
        ended = self.check(environment | {"PORT": port})
        assert ended.returncode == 1
        assert "is no port" in ended.stderr


class TestContainers:
    COMPOSE: dict[str, Any] = yaml.safe_load((ROOT / "compose.yaml").read_text())

    def test_what_a_service_waits_for_exists(self) -> None:
        services = self.COMPOSE["services"]
        assert set(services) == {"database", "prepare", "app", "proxy"}
        for service in services.values():
            assert set(service.get("depends_on", {})) <= set(services)
            for name, awaited in service.get("depends_on", {}).items():
                if awaited["condition"] == "service_healthy":
                    assert "healthcheck" in services[name]

    def test_every_volume_is_declared(self) -> None:
        used = {volume.split(":")[0] for service in self.COMPOSE["services"].values() for volume in service["volumes"]}
        assert used == set(self.COMPOSE["volumes"])

    def test_no_secret_stands_in_the_file(self) -> None:
        database_of, app = (self.COMPOSE["services"][name]["environment"] for name in ("database", "app"))
        assert database_of["POSTGRES_PASSWORD"].startswith("${POSTGRES_PASSWORD:?")
        assert app["SECRET_KEY"].startswith("${SECRET_KEY:?")
        assert "${POSTGRES_PASSWORD:?" in app["DATABASE_URL"]

    def test_only_the_proxy_is_reached_from_outside(self) -> None:
        assert [name for name, service in self.COMPOSE["services"].items() if "ports" in service] == ["proxy"]

    def test_the_program_reads_every_variable(self) -> None:
        settings = (ROOT / "shopfloor" / "settings.py").read_text()
        read = set(re.findall(r"""(?:environ(?:\.get\(|\[)|_truth\()["'](\w+)["']""", settings))
        assert set(self.COMPOSE["services"]["app"]["environment"]) <= read

    def test_the_image_gets_all_of_the_program(self) -> None:
        """Each thing that is copied exists and is let through; every package of the program is copied."""
        copied = re.findall(r"^COPY (\S+) ", (ROOT / "Dockerfile").read_text(), re.MULTILINE)
        let_through = re.findall(r"^!(\S+)", (ROOT / ".dockerignore").read_text(), re.MULTILINE)
        assert sorted(copied) == sorted(let_through)
        assert [name for name in copied if not (ROOT / name).exists()] == []
        packages = PROJECT["tool"]["importlinter"]["root_packages"]
        assert {*packages, "templates", "static", "manage.py"} <= set(copied)


class TestContracts:
    CONTRACTS: dict[str, Any] = {
        contract["name"]: contract for contract in PROJECT["tool"]["importlinter"]["contracts"]
    }

    def test_every_screen_is_kept_apart(self) -> None:
        screens = {f"shopfloor.{views.parent.name}" for views in (ROOT / "shopfloor").glob("*/views.py")}
        assert set(self.CONTRACTS["Screens do not import each other"]["modules"]) == screens

    def test_the_core_is_kept_from_all_the_rest(self) -> None:
        pure = {"specs", "drawings", "scheduling"}
        rest = {
            f"routing.{path.stem}"
            for path in (ROOT / "routing").iterdir()
            if (path.suffix == ".py" or (path / "__init__.py").exists())
            and path.stem not in {*pure, "__init__", "migrations", "management"}
        }
        forbidden = set(self.CONTRACTS["The core and the drawings are pure"]["forbidden_modules"])
        assert forbidden == rest | {"django"}

    def test_the_core_loads_without_django(self) -> None:
        """Not even by way of something else."""
        program = (
            "import importlib, pkgutil, sys\n"
            "import routing.specs, routing.drawings, routing.scheduling\n"
            "for package in (routing.specs, routing.drawings, routing.scheduling):\n"
            "    for module in pkgutil.walk_packages(package.__path__, package.__name__ + '.'):\n"
            "        importlib.import_module(module.name)\n"
            "print(*sorted(name for name in sys.modules if name.split('.')[0] in ('django', 'quality', 'shopfloor')\n"
            "    or name.startswith('routing.') and name.split('.')[1] not in ('specs', 'drawings', 'scheduling')))\n"
            "print(sum(name.startswith('routing.specs.') for name in sys.modules))\n"
        )
        ended = subprocess.run([sys.executable, "-c", program], cwd=ROOT, check=False, capture_output=True, text=True)
        assert ended.returncode == 0, ended.stderr
        loaded, modules = ended.stdout.splitlines()
        assert loaded == ""
        assert int(modules) > 10


def test_the_server_of_a_killed_run_ends_too() -> None:
    """A run that is killed has no time to tidy up; its throw-away server must not outlive it."""
    program = (
        "import os, time\n"
        "from tests import database\n"
        "url = database._throwaway_server()\n"
        "print(url, flush=True)\n"
        "time.sleep(60)\n"
    )
    with subprocess.Popen([sys.executable, "-c", program], cwd=ROOT, stdout=subprocess.PIPE, text=True) as run:
        try:
            assert run.stdout is not None
            found = re.search(r"pg-\w+", run.stdout.readline())
        finally:
            run.kill()
    assert found
    folder = Path("/tmp") / found[0]
    process_file = folder / "data" / "postmaster.pid"
    patience = time.monotonic() + 20
    while process_file.exists() and time.monotonic() < patience:
        time.sleep(0.1)
    still_runs = process_file.exists()
    shutil.rmtree(folder, ignore_errors=True)
    assert not still_runs
