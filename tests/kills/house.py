"""A Deskwright of its own in a folder of its own, that may be killed: its database, its server, and a visitor."""

from __future__ import annotations

import contextlib
import http.client
import json
import os
import pathlib
import secrets
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from typing import Any

from django.test.client import BOUNDARY, MULTIPART_CONTENT, encode_multipart

from tests.ports import free_port
from tests.programs import missing

HERE = pathlib.Path(__file__).resolve().parents[2]
PATIENCE = 60  # seconds for a start


class Cluster:
    """A PostgreSQL of its own, as it comes: ``fsync`` and ``synchronous_commit`` are on."""

    def __init__(self) -> None:
        places = sorted(
            pathlib.Path("/usr/lib/postgresql").glob("*/bin"),
            key=lambda one: float(one.parent.name),
        )
        if not places:
            missing("PostgreSQL is not installed (Debian package: postgresql)")
        self.bin, self.port = places[-1], free_port()
        self.folder = pathlib.Path(tempfile.mkdtemp(prefix="deskwright-kills-"))
        self.who: list[str] = []
        if os.geteuid() == 0:  # it refuses to run as root
            shutil.chown(self.folder, "postgres")
            self.who = ["runuser", "-u", "postgres", "--"]
        self._run("initdb", "-D", self.folder / "data", "-U", "deskwright", "-A", "trust")
        self.start()

    def _run(self, program: str, *words: object) -> None:
        command = [*self.who, str(self.bin / program), *map(str, words)]
        subprocess.run(
            command, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, timeout=PATIENCE
        )

    def start(self) -> None:
        options = f"-p {self.port} -k {self.folder} -c listen_addresses=127.0.0.1"
        self._run(
            "pg_ctl",
            "-D",
            self.folder / "data",
            "-w",
            "-t",
            PATIENCE,
            "-o",
            options,
            "-l",
            self.folder / "log",
            "start",
        )

    def kill(self) -> None:
        """The first process of the server is killed; the others see it and end at once, without writing."""
        leader = int((self.folder / "data" / "postmaster.pid").read_text().split()[0])
        others = children_of(leader)
        os.kill(leader, signal.SIGKILL)
        end = time.monotonic() + PATIENCE
        while (
            any(pathlib.Path(f"/proc/{one}").exists() for one in others) and time.monotonic() < end
        ):
            time.sleep(0.05)

    def close(self) -> None:
        with contextlib.suppress(subprocess.SubprocessError):
            self._run("pg_ctl", "-D", self.folder / "data", "-m", "immediate", "stop")
        shutil.rmtree(self.folder, ignore_errors=True)

    @property
    def url(self) -> str:
        return f"postgres://deskwright@127.0.0.1:{self.port}/postgres"


def children_of(pid: int) -> list[int]:
    with contextlib.suppress(OSError):
        return [
            int(one) for one in pathlib.Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
        ]
    return []


class House:
    """The app on its database and its folder."""

    def __init__(self, folder: pathlib.Path, database: str = "") -> None:
        self.folder, self.port = folder, free_port()
        folder.mkdir(parents=True, exist_ok=True)
        around = {
            name: word
            for name, word in os.environ.items()
            if name not in ("DATABASE_URL", "SECRET_KEY")
        }
        self.env = {
            **around,
            "DJANGO_SETTINGS_MODULE": "planner.settings",
            "DESKWRIGHT_DATA": str(folder),
            "DESKWRIGHT_DEMO": "yes",
            "OMP_NUM_THREADS": "1",
            "OPENBLAS_NUM_THREADS": "1",
            **({"DATABASE_URL": database} if database else {}),
        }
        self.server: subprocess.Popen | None = None
        self.kills = 0

    def ask(self, module: str) -> dict[str, Any]:
        """Runs one of the scripts beside this one and gives what it says."""
        done = subprocess.run(
            [sys.executable, "-m", f"tests.kills.{module}"],
            cwd=HERE,
            env=self.env,
            text=True,
            capture_output=True,
            timeout=600,
            check=False,
        )
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout.splitlines()[-1])

    def start(self) -> None:
        """The product's own server, with two processes."""
        serve = ["serve", "--no-prepare", "--workers", "2", "--address", f"127.0.0.1:{self.port}"]
        command = [sys.executable, "manage.py", *serve]
        self.server = subprocess.Popen(
            command,
            cwd=HERE,
            env=self.env,
            start_new_session=True,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end:
            if self._is_alive():
                return
            time.sleep(0.05)
        raise AssertionError("the server did not start")

    def _is_alive(self) -> bool:
        with contextlib.suppress(OSError, http.client.HTTPException):
            line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=5)
            line.request("GET", "/health")
            return line.getresponse().status == 200
        return False

    def kill_one(self, which) -> None:
        """Kills one of the processes that answer; ``which`` chooses among them."""
        assert self.server is not None
        end = time.monotonic() + PATIENCE
        while len(found := children_of(self.server.pid)) < 2 and time.monotonic() < end:
            time.sleep(0.02)
        os.kill(which(found), signal.SIGKILL)
        self.kills += 1

    def kill(self) -> None:
        """Kills the whole server."""
        if self.server is not None:
            os.killpg(self.server.pid, signal.SIGKILL)
            self.server.wait()
            self.server = None
            self.kills += 1


class Visitor:
    """Somebody signed in, whose requests may get no answer."""

    def __init__(self, port: int, cookie: str) -> None:
        self.port = port
        self.mark = secrets.token_hex(16)
        self.headers = {"Cookie": f"sessionid={cookie}; csrftoken={self.mark}", "Host": "127.0.0.1"}

    def get(self, path: str) -> str | None:
        answer = self._ask("GET", path, b"", {})
        return answer[1] if answer and answer[0] == 200 else None

    def send(self, path: str, fields: dict[str, Any]) -> int | None:
        """Sends a form; gives the status, or ``None`` where no answer came."""
        body = encode_multipart(BOUNDARY, {**fields, "csrfmiddlewaretoken": self.mark})
        answer = self._ask("POST", path, body, {"Content-Type": MULTIPART_CONTENT})
        return answer[0] if answer else None

    def _ask(
        self, method: str, path: str, body: bytes, headers: dict[str, str]
    ) -> tuple[int, str] | None:
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=30)
        try:
            line.request(method, path, body, {**self.headers, **headers})
            answer = line.getresponse()
            return answer.status, answer.read().decode()
        except (OSError, http.client.HTTPException):
            return None
        finally:
            line.close()
