"""A house of its own for a test: a database, a data folder, a port, and ``manage.py serve``."""

from __future__ import annotations

import contextlib
import json
import os
import pathlib
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
import urllib.request
from collections.abc import Iterator, Mapping

from tests.ports import free_port
from tests.starts import KEY

ROOT = pathlib.Path(__file__).resolve().parents[2]
POSTGRES = (
    "-c",
    "listen_addresses=127.0.0.1",
    "-c",
    "fsync=off",
)  # nobody's record: it is thrown away
LONGEST = (
    1200  # seconds; then whatever was started ends, also when the test that started it was killed
)
BOUNDED = ("timeout", "--kill-after=10", str(LONGEST))
START_SECONDS = 400.0  # a first start makes every table; on a busy machine that takes minutes


# -- the database --------------------------------------------------------------------------------


def postgres_programs() -> pathlib.Path | None:
    """The folder of the newest PostgreSQL's programs, or ``None`` where there is none."""
    found = sorted(
        pathlib.Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda one: int(one.parts[-3])
    )
    if found:
        return found[-1].parent
    elsewhere = shutil.which("initdb")
    return pathlib.Path(elsewhere).parent if elsewhere else None


@contextlib.contextmanager
def postgres(programs: pathlib.Path) -> Iterator[str]:
    """Runs a PostgreSQL in a temporary folder; gives the address of its server, without a database's name."""
    place = pathlib.Path(tempfile.mkdtemp(prefix="deskwright-pg-"))
    if os.geteuid() == 0:
        shutil.chown(place, "postgres")
    port, data = free_port(), place / "data"
    running = None
    try:
        initdb = [programs / "initdb", "-D", data, "-U", "deskwright", "-A", "trust", "-N"]
        subprocess.run(
            _as_postgres(*initdb),
            check=True,
            stdout=subprocess.DEVNULL,
            cwd="/",
            timeout=START_SECONDS,
        )
        command = _as_postgres(
            programs / "postgres", "-D", data, "-p", port, "-k", place, *POSTGRES
        )
        with (place / "log").open("wb") as log:
            running = subprocess.Popen(command, stdout=log, stderr=log, cwd="/")
        _wait_for_postgres(port, running, place / "log")
        yield f"postgres://deskwright@127.0.0.1:{port}/"
    finally:
        if running is not None:
            _stop_postgres(running, data / "postmaster.pid")
        shutil.rmtree(place, ignore_errors=True)


def _stop_postgres(running: subprocess.Popen, pid: pathlib.Path) -> None:
    """At once, also where somebody is still connected."""
    with contextlib.suppress(OSError):
        os.kill(int(pid.read_text().split()[0]), signal.SIGINT)
    running.wait(30)


def _as_postgres(*command: object) -> list[str]:
    """A command as user postgres: PostgreSQL does not run as root."""
    apart = ("runuser", "-u", "postgres", "--") if os.geteuid() == 0 else ()
    return [*apart, *BOUNDED, *map(str, command)]


def _wait_for_postgres(port: int, running: subprocess.Popen, log: pathlib.Path) -> None:
    import psycopg

    end = time.monotonic() + START_SECONDS
    while time.monotonic() < end and running.poll() is None:
        with contextlib.suppress(psycopg.OperationalError):
            psycopg.connect(f"postgres://deskwright@127.0.0.1:{port}/postgres").close()
            return
        time.sleep(0.1)
    raise AssertionError(f"PostgreSQL does not come up:\n{log.read_text()}")


def make_database(server: str, name: str, like: str = "template1") -> str:
    """A database on a server of :func:`postgres`, empty or ``like`` another; gives its address."""
    import psycopg

    end = time.monotonic() + 10
    while True:
        try:
            with psycopg.connect(f"{server}postgres", autocommit=True) as connection:
                connection.execute(f'CREATE DATABASE "{name}" TEMPLATE "{like}"')
            return server + name
        except psycopg.errors.ObjectInUse:  # somebody who was just stopped has not quite left it
            if time.monotonic() > end:
                raise
            time.sleep(0.1)


# -- the house -----------------------------------------------------------------------------------


class House:
    """``serve`` as an operator starts it, and what a test needs of it."""

    def __init__(
        self,
        data: pathlib.Path,
        *,
        database: str = "",
        workers: int = 2,
        tree: pathlib.Path = ROOT,
        more: Mapping[str, str] | None = None,
    ) -> None:
        self.data, self.tree, self.workers, self.port = data, tree, workers, free_port()
        dropped = (
            "DESKWRIGHT_",
            "PYTEST",
            "DATABASE_URL",
            "DJANGO_",
            "GUNICORN",
            "EMAIL_",
            "BEHIND_TLS",
        )
        own = {name: value for name, value in os.environ.items() if not name.startswith(dropped)}
        self.environment = {
            **own,
            "SECRET_KEY": KEY,
            "ALLOWED_HOSTS": "127.0.0.1",
            "DESKWRIGHT_DATA": str(data),
            "PYTHONPATH": str(tree),
            "PYTHONDONTWRITEBYTECODE": "1",
            **(more or {}),
        }
        if database:
            self.environment["DATABASE_URL"] = database
        self.process: subprocess.Popen | None = None
        self.log = data / "serve.log"

    def start(self, *words: str, wait: bool = True) -> None:
        """Runs ``serve``; comes back as soon as the port is open, before anybody was answered."""
        address = f"127.0.0.1:{self.port}"
        serve = [
            sys.executable,
            "manage.py",
            "serve",
            "--address",
            address,
            "--workers",
            str(self.workers),
        ]
        command = [*BOUNDED, *serve, *words]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(
                command,
                cwd=self.tree,
                env=self.environment,
                stdout=log,
                stderr=log,
                start_new_session=True,
            )
        if wait:
            self.wait_for_port()

    def wait_for_port(self) -> None:
        end = time.monotonic() + START_SECONDS
        while time.monotonic() < end:
            assert self.process is not None and self.process.poll() is None, (
                f"serve ended:\n{self.said()}"
            )
            with (
                contextlib.suppress(OSError),
                socket.create_connection(("127.0.0.1", self.port), 1),
            ):
                return
            time.sleep(0.02)
        raise AssertionError(f"nobody listens after {START_SECONDS:.0f} s:\n{self.said()}")

    def get(self, path: str, cookie: str = "", seconds: float = 30.0) -> str:
        """What a page says. Raises OSError when nobody answers, or with another status than 200."""
        asked = urllib.request.Request(
            f"http://127.0.0.1:{self.port}{path}", headers={"Cookie": cookie}
        )
        with urllib.request.urlopen(asked, timeout=seconds) as answer:
            return answer.read().decode(errors="replace")

    def said(self) -> str:
        """What the house wrote, the end of it."""
        return self.log.read_text(errors="replace")[-6000:] if self.log.exists() else ""

    def master(self) -> int:
        """The process that became the server: the only child of what bounds its time."""
        assert self.process is not None
        return _children(self.process.pid)[0]

    def processes(self) -> list[int]:
        """The server's worker processes, the oldest first."""
        return sorted(_children(self.master()))

    def tell(self, what: signal.Signals) -> None:
        os.kill(self.master(), what)

    def stop(self) -> None:
        """Ends the server and whatever it started."""
        if self.process is None:
            return
        with contextlib.suppress(ProcessLookupError, IndexError):
            self.tell(signal.SIGTERM)
        with contextlib.suppress(subprocess.TimeoutExpired):
            self.process.wait(10)
        with contextlib.suppress(ProcessLookupError):
            os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait(10)
        self.process = None

    def manage(self, *words: str) -> str:
        """Runs a command of manage.py in this house to its end."""
        return self._run("manage.py", *words)

    def ask(self, *words: object) -> dict:
        """Runs ``tests.crowd.seed`` in this house and gives what it found. Always this tree's own."""
        environment = {
            **self.environment,
            "PYTHONPATH": os.pathsep.join((str(self.tree), str(ROOT))),
        }
        seed = str(ROOT / "tests" / "crowd" / "seed.py")
        return json.loads(self._run(seed, *map(str, words), environment=environment))

    def _run(self, *words: str, environment: dict | None = None) -> str:
        ran = subprocess.run(
            [sys.executable, *words],
            cwd=self.tree,
            env=environment or self.environment,
            capture_output=True,
            text=True,
            check=False,
            timeout=START_SECONDS,
        )
        assert ran.returncode == 0, ran.stdout + ran.stderr
        return ran.stdout


def _children(pid: int) -> list[int]:
    try:
        return [
            int(one) for one in pathlib.Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
        ]
    except OSError:
        return []
