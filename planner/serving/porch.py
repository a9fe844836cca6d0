"""The porch: a request waits here until all of it has come, and an answer until all of it is taken.

Only then, and only while it is worked on, does it hold one of a process's few threads. One loop a process looks after
all connections; waitress does the reading, parsing and sending. What is bounded here:

- a request's head must be here within :data:`HEAD_SECONDS`; its body, after :data:`BODY_SECONDS`, must have come at
  :data:`SLOWEST` bytes a second or more: a connection that dribbles is closed;
- a connection on which nothing moves is closed after :data:`IDLE_SECONDS`, also one that does not take its answer;
- no more than :data:`CONNECTIONS` a process; when three quarters are taken, those that wait longest without a whole
  request go, so that a newcomer is let in;
- a head of at most :data:`HEAD_BYTES`, a body of :data:`BODY_BYTES`, bodies that are not yet whole together of
  :data:`HELD_BYTES` a process; what is large lies in a file, not in memory;
- a process with a request that ran longer than :data:`LONGEST_SECONDS` is replaced.

Two hundred slow connections therefore cost two hundred open sockets for some seconds and no thread. What only a proxy
in front can do: tell one sender from many (bounds for each address), and take thousands of connections a second or
more bytes than the line holds.
"""

from __future__ import annotations

import ipaddress
import logging
import os
import select
import socket
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from waitress import wasyncore
from waitress.adjustments import Adjustments
from waitress.channel import HTTPChannel
from waitress.server import BaseWSGIServer, TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher

CONNECTIONS = 400
HEAD_BYTES = 32 * 2**10
BODY_BYTES = 80 * 2**20  # more than the house takes, so that it can say so itself
HELD_BYTES = 400 * 2**20
HEAD_SECONDS = 15
BODY_SECONDS = 30
SLOWEST = 1024  # bytes a second
IDLE_SECONDS = 30
LONGEST_SECONDS = 300
LINGER_SECONDS = (
    2  # that a leaving process leaves an idle connection open: a request may be on its way
)

Application = Callable[[dict, Callable], Iterable[bytes]]
log = logging.getLogger("deskwright.porch")


class Visitor(HTTPChannel):
    """A connection: one request of it is read at a time."""

    since = 0.0  # when the first byte of the request that is being read came
    begun = 0.0  # when a thread took the request that is worked on; 0 while none is

    def received(self, data: bytes) -> bool:
        if self.request is None:
            self.since = time.time()
        return super().received(data)

    def service(self) -> None:
        self.begun = time.time()
        try:
            super().service()
        finally:
            self.begun = 0.0
            self.server.served += 1

    def write_soon(self, data: Any) -> int:
        self.last_activity = (
            time.time()
        )  # an answer that took long to make has not been waiting since it was asked for
        return super().write_soon(data)

    @property
    def at_rest(self) -> bool:
        """No whole request is here, and no answer waits to be taken."""
        return not self.requests and not self.total_outbufs_len

    @property
    def waits_since(self) -> float:
        return self.since if self.request is not None else self.last_activity

    @property
    def held(self) -> int:
        """Bytes kept of a request that is not whole yet."""
        request = self.request
        return request.body_bytes_received if request is not None else 0

    def dribbles(self, now: float, *, head: float, body: float) -> bool:
        """Whether a request comes in so slowly that nobody honest sends it. ``head`` is how many seconds its head may
        take, ``body`` how many until its body must have come at the least speed."""
        request = self.request
        if request is None or self.requests:
            return False
        waited = now - self.since
        if not request.headers_finished:
            return waited > head
        return request.body_bytes_received < (waited - body) * SLOWEST

    def stalls(self, now: float) -> bool:
        """Whether the other side no longer takes its answer."""
        return bool(self.total_outbufs_len) and now - self.last_activity > IDLE_SECONDS


class _Porch(BaseWSGIServer):
    """A listening socket and the connections that came in by it."""

    channel_class = Visitor
    served = 0

    def maintenance(self, now: float) -> None:
        """Every second: closes what dribbles, stalls or idles, or holds too much."""
        super().maintenance(now)
        there = self.visitors()
        for one in there:
            if one.dribbles(now, head=HEAD_SECONDS, body=BODY_SECONDS):
                one.will_close = True
            if one.stalls(now):
                one.handle_close()  # at once: what only will be closed first waits until it can send
        for one in _heaviest(there, sum(one.held for one in there) - HELD_BYTES):
            one.will_close = True

    def handle_accept(self) -> None:
        """Lets one in, and makes room for the next."""
        super().handle_accept()
        there = [one for one in self.visitors() if not one.will_close]
        too_many = len(there) - CONNECTIONS * 3 // 4
        if too_many > 0:
            resting = sorted((one for one in there if one.at_rest), key=lambda one: one.waits_since)
            for one in resting[:too_many]:
                one.will_close = True

    def visitors(self) -> list[Visitor]:
        return list(self.active_channels.values())

    def begun_before(self, moment: float) -> bool:
        """Whether a request is worked on since before a moment."""
        return any(0 < one.begun < moment for one in self.visitors())

    def close_door(self) -> None:
        """Takes nobody in any more; those who are here stay."""
        wasyncore.dispatcher.close(self)


def _heaviest(there: Sequence[Visitor], too_much: int) -> list[Visitor]:
    """The unfinished requests that hold most, until what is too much is gone."""
    going = []
    for one in sorted(there, key=lambda one: -one.held):
        if too_much <= 0:
            break
        going.append(one)
        too_much -= one.held
    return going


class TcpPorch(_Porch, TcpWSGIServer):
    """At an address and port."""


if hasattr(socket, "AF_UNIX"):
    from waitress.server import UnixWSGIServer

    class UnixPorch(_Porch, UnixWSGIServer):
        """At a socket in the file system, for a proxy on this machine."""


class House:
    """All listening sockets of a process, its threads and its loop."""

    def __init__(
        self,
        application: Application,
        threads: int,
        sockets: Sequence[socket.socket] = (),
        listen: str = "",
    ):
        given: dict[str, Any] = {"sockets": list(sockets)} if sockets else {"listen": listen}
        logging.getLogger("waitress.queue").setLevel(
            logging.ERROR
        )  # a queue at the door is what a porch is for
        self.map: dict[int, Any] = {}
        self.adjusted = Adjustments(
            threads=threads,
            ident=None,
            connection_limit=CONNECTIONS,
            cleanup_interval=1,
            channel_timeout=IDLE_SECONDS,
            max_request_header_size=HEAD_BYTES,
            max_request_body_size=BODY_BYTES,
            clear_untrusted_proxy_headers=False,
            asyncore_use_poll=hasattr(select, "poll"),
            log_socket_errors=False,
            **given,
        )
        self.threads = ThreadedTaskDispatcher()
        self.threads.set_thread_count(threads)
        self.doors = [self._door(application, one) for one in sockets]
        self.doors += [
            self._door(application, None, told)
            for told in ([] if sockets else self.adjusted.listen)
        ]

    def _door(
        self, application: Application, sock: socket.socket | None, told: tuple | None = None
    ) -> _Porch:
        if sock is not None:
            told = (sock.family, sock.type, sock.proto, sock.getsockname())
        kind = (
            UnixPorch
            if sock is not None and sock.family not in (socket.AF_INET, socket.AF_INET6)
            else TcpPorch
        )
        return kind(
            application,
            self.map,
            True,
            sock,
            dispatcher=self.threads,
            adj=self.adjusted,
            sockinfo=told,
            bind_socket=sock is None,
        )

    @property
    def served(self) -> int:
        return sum(one.served for one in self.doors)

    @property
    def stuck(self) -> bool:
        return any(one.begun_before(time.time() - LONGEST_SECONDS) for one in self.doors)

    def look(self, seconds: float = 1.0) -> None:
        """One turn of the loop: whatever can be read or sent just now."""
        wasyncore.loop(
            timeout=seconds, use_poll=self.adjusted.asyncore_use_poll, map=self.map, count=1
        )

    def leave(self, seconds: float, alive: Callable[[], object]) -> None:
        """Closes the door and finishes what was begun, for so many seconds at most."""
        for one in self.doors:
            one.close_door()
        now = time.time()
        end, linger = now + seconds, now + LINGER_SECONDS
        while now < end and (there := self._visitors()):
            alive()
            for one in there if now > linger else ():
                if one.at_rest and (one.request is None or one.dribbles(now, head=0, body=0)):
                    one.will_close = True
            self.look(0.2)
            now = time.time()
        self.threads.shutdown(timeout=1)
        wasyncore.close_all(self.map, ignore_all=True)

    def _visitors(self) -> list[Visitor]:
        return [one for door in self.doors for one in door.visitors()]


# -- what is known of the way here -----------------------------------------------------------------


def behind(application: Application, proxies: Iterable[object]) -> Application:
    """The application as seen behind proxies: one of them may say that people came by TLS, nobody else."""
    networks = [ipaddress.ip_network(str(one), strict=False) for one in proxies]
    if not networks:
        return application

    def seen(environ: dict, start_response: Callable) -> Iterable[bytes]:
        if environ.get("HTTP_X_FORWARDED_PROTO") == "https" and _is_in(
            environ.get("REMOTE_ADDR", ""), networks
        ):
            environ["wsgi.url_scheme"] = "https"
        return application(environ, start_response)

    return seen


def _is_in(address: str, networks: Iterable) -> bool:
    try:
        one = ipaddress.ip_address(address)
    except ValueError:
        return False
    return any(one in network for network in networks)


# -- serving ---------------------------------------------------------------------------------------


def serve_for(worker: Any) -> None:
    """Serves as a worker process of gunicorn (:class:`planner.serving.server.PorchWorker`) until it is told to end."""
    from django.conf import settings

    application = behind(worker.wsgi, settings.TRUSTED_PROXIES)
    house = House(application, worker.cfg.threads, [one.sock for one in worker.sockets])
    while worker.alive and worker.ppid == os.getppid():
        worker.notify()
        house.look()
        if house.served >= worker.max_requests:
            break
        if house.stuck:
            log.error("A request has run for %d s: this process is replaced.", LONGEST_SECONDS)
            break
    house.leave(worker.cfg.graceful_timeout, worker.notify)


def serve(listen: str) -> None:
    """Serves in this one process, where gunicorn does not run, until it is interrupted."""
    from django.conf import settings

    from planner.wsgi import application

    house = House(behind(application, settings.TRUSTED_PROXIES), settings.THREADS, listen=listen)
    try:
        while True:
            house.look()
    except KeyboardInterrupt:
        house.leave(5, lambda: None)


if __name__ == "__main__":
    serve(sys.argv[1])
