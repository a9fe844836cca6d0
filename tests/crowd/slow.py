"""Connections that send one byte a second, and what others get meanwhile."""

from __future__ import annotations

import contextlib
import socket
import threading
import time

HEAD = b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\nX-Long: " + b"a" * 4000
BODY = (
    b"POST /sign-in/login/ HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/x-www-form-urlencoded\r\n"
    b"Content-Length: 100000\r\n\r\n"
)


class Dribblers:
    """So many connections; half of them dribble a head, half a body. They end with the block, or after ``most`` s."""

    def __init__(self, port: int, count: int, most: float = 60.0) -> None:
        self.port, self.count, self.most = port, count, most
        self._over = threading.Event()
        self._open: list[socket.socket] = []

    def __enter__(self) -> Dribblers:
        for number in range(self.count):
            one = socket.create_connection(("127.0.0.1", self.port), 5)
            one.setblocking(False)
            one.send(HEAD[:20] if number % 2 else BODY)
            self._open.append(one)
        threading.Thread(target=self._dribble, daemon=True).start()
        return self

    def _dribble(self) -> None:
        end = time.monotonic() + self.most
        while time.monotonic() < end and not self._over.wait(1):
            for one in self._open:
                with contextlib.suppress(OSError):
                    one.send(b"a")

    def still_open(self) -> int:
        """How many the server has not closed."""
        count = 0
        for one in self._open:
            try:
                count += bool(one.recv(1000))
            except BlockingIOError:
                count += 1
            except OSError:
                continue
        return count

    def __exit__(self, *_: object) -> None:
        self._over.set()
        for one in self._open:
            one.close()
