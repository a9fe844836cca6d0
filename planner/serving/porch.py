"""The porch: a request waits here until all of it has come, and an answer until all of it is taken.

Only then, and only while it is worked on, does it hold one of a process's few threads. One loop a process looks after
all connections; waitress does the reading, parsing and sending. What is bounded here:

- a request's head must be here within :data:`HEAD_SECONDS`; its body, after :data:`BODY_SECONDS`, must have come at
  :data:`SLOWEST` bytes a second or more: a connection that dribbles is closed;
- a connection on which nothing moves is closed after :data:`IDLE_SECONDS`;
- an answer must be taken at :data:`SLOWEST` bytes a second or more, looked at every :data:`IDLE_SECONDS`: a byte now
  and then does not count as taking;
- no thread ever waits for somebody to take an answer: what is not taken lies in a file. The next answer of a
  connection is begun when the last is taken, so that each has at most one lying here; who sends more than
  :data:`MOST_AT_ONCE` requests ahead is closed;
- no more than :data:`CONNECTIONS` a process; when three quarters are taken, those go that wait longest without a whole
  request or without taking their answer, so that a newcomer is let in;
- a head of at most :data:`HEAD_BYTES`, a body of :data:`BODY_BYTES`, bodies that are not yet whole together of
  :data:`HELD_BYTES` a process; what is large lies in a file, not in memory;
- who sends too large a body is told so and heard out for :data:`BODY_SECONDS` at most, what comes being thrown away: a
  browser whose sending is cut off shows an error of its own and not the page that says what to do;
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
from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

from waitress import wasyncore
from waitress.adjustments import Adjustments
from waitress.buffers import ReadOnlyFileBasedBuffer
from waitress.channel import HTTPChannel
from waitress.server import BaseWSGIServer, TcpWSGIServer
from waitress.task import ThreadedTaskDispatcher

from planner.serving.refusals import Refusal

CONNECTIONS = 400
HEAD_BYTES = 32 * 2**10
BODY_BYTES = 80 * 2**20  # more than the house takes, so that it can say so itself
HELD_BYTES = 400 * 2**20
HEAD_SECONDS = 15
BODY_SECONDS = 30
SLOWEST = 1024  # bytes a second
IDLE_SECONDS = 30
LONGEST_SECONDS = 300
MOST_AT_ONCE = 4  # requests that a connection may send before it has its answers
SENDING_BYTES = (
    128 * 2**10
)  # that the system keeps of an answer: it is seen early whether somebody takes it
BEYOND_REACH = 2**62  # bytes of an answer at which waitress would make a thread wait
LINGER_SECONDS = (
    2  # that a leaving process leaves an idle connection open: a request may be on its way
)

SocketInfo = tuple[int, int, int, object]  # family, type, protocol, where it is bound
log = logging.getLogger("deskwright.porch")


class Visitor(HTTPChannel):
    """A connection: one request of it is worked on at a time, and none before the last answer is taken."""

    since = 0.0  # when the first byte of the request that is being read came
    begun = 0.0  # when a thread took the request that is worked on; 0 while none is
    held_back = False  # whether the next request waits until the last answer is taken
    watched_since = 0.0  # from when on the bytes of an answer are counted that are taken
    taken = 0  # bytes since then
    refused = False  # whether the last answer says that its request is too large
    heard_out_since = 0.0  # from when on what still comes is thrown away

    error_task_class = Refusal

    def received(self, data: bytes) -> bool:
        if self.heard_out_since:
            return False
        if self.request is None:
            self.since = time.time()
        read: bool = super().received(data)
        if len(self.requests) > MOST_AT_ONCE:
            self.go()
        return read

    def service(self) -> None:
        self.begun = time.time()
        try:
            super().service()
        finally:
            self.begun = 0.0
            self.server.served += 1

    def write_soon(self, data: bytes | ReadOnlyFileBasedBuffer) -> int:
        now = time.time()
        self.last_activity = now  # an answer that took long to make was not there to be taken
        if not self.total_outbufs_len:
            self.watched_since, self.taken = now, 0
        written: int = super().write_soon(data)
        return written

    def send(self, data: bytes, do_close: bool = True) -> int:
        sent: int = super().send(data, do_close=do_close)
        self.taken += sent
        return sent

    def go(self) -> None:
        """It is closed before the next turn of the loop, whether the other side takes anything or not. Not at once:
        within a turn, somebody new could come to stand under the number of its socket."""
        self.will_close = True
        self.server.going.append(self)

    # -- heard out -------------------------------------------------------------------------------

    def readable(self) -> bool:
        return bool(self.heard_out_since) or super().readable()

    def hear_out(self) -> None:
        """The answer is sent, and nothing more will be. What the other side has begun to send may come to its end."""
        self.heard_out_since = time.time()
        self.close_when_flushed = False
        try:
            self.socket.shutdown(socket.SHUT_WR)
        except OSError:
            self.will_close = True

    # -- one answer at a time --------------------------------------------------------------------

    def hold_back(self) -> None:
        """The next request waits: the loop lets it go on when nothing of the last answer is left."""
        self.held_back = True

    def writable(self) -> bool:
        return self.held_back or super().writable()

    def handle_write(self) -> None:
        if self.refused and self.close_when_flushed and not self.total_outbufs_len:
            self.refused = False
            self.hear_out()
        super().handle_write()
        if self.held_back and self.connected and not self.total_outbufs_len:
            self.held_back = False
            self.server.task_dispatcher.add_task(self)

    # -- who waits for what ----------------------------------------------------------------------

    @property
    def at_rest(self) -> bool:
        """No whole request is here, and no answer waits to be taken."""
        return not self.requests and not self.total_outbufs_len

    @property
    def can_go(self) -> bool:
        """Whether nothing is lost but the other side's own time: the house does nothing for this one just now."""
        return self.at_rest or (bool(self.total_outbufs_len) and not self.begun)

    @property
    def waits_since(self) -> float:
        if self.request is not None:
            return self.since
        return self.last_activity

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
        received: int = request.body_bytes_received
        return received < (waited - body) * SLOWEST

    def stalls(self, now: float) -> bool:
        """Whether the other side takes its answer so slowly that nobody honest does. It is judged once every
        :data:`IDLE_SECONDS`; from then on the bytes are counted anew."""
        if not self.total_outbufs_len or now - self.watched_since < IDLE_SECONDS:
            return False
        taken, self.taken, self.watched_since = self.taken, 0, now
        return taken < SLOWEST * IDLE_SECONDS


class _Porch(BaseWSGIServer):
    """A listening socket and the connections that came in by it."""

    channel_class = Visitor
    served = 0

    def __init__(self, *given: Any, **named: Any):
        self.going: list[Visitor] = []
        super().__init__(*given, **named)

    def maintenance(self, now: float) -> None:
        """Every second: closes what dribbles, stalls or idles, or holds too much."""
        super().maintenance(now)
        there = self.visitors()
        for one in there:
            heard_enough = 0 < one.heard_out_since < now - BODY_SECONDS
            dribbles = one.dribbles(now, head=HEAD_SECONDS, body=BODY_SECONDS)
            if heard_enough or dribbles or one.stalls(now):
                one.go()
        for one in _heaviest(there, sum(one.held for one in there) - HELD_BYTES):
            one.go()
        self.make_room(0)  # at the bound nobody is let in who would make some

    def handle_accept(self) -> None:
        """Makes room, and lets one in: whoever comes is never the one who has to go."""
        self.make_room(1)
        super().handle_accept()

    def make_room(self, for_so_many: int) -> None:
        """Those who wait longest go until there is room. Whoever is worked for stays, even if there is none then:
        newcomers wait outside."""
        there = [one for one in self.visitors() if not one.will_close]
        too_many = len(there) + for_so_many - CONNECTIONS * 3 // 4
        if too_many <= 0:
            return
        can_go = [one for one in there if one.can_go]
        can_go.sort(key=lambda one: one.waits_since)
        for one in can_go[:too_many]:
            one.go()

    def close_those_who_go(self) -> None:
        """Between two turns of the loop."""
        while self.going:
            self.going.pop().handle_close()

    def add_task(self, visitor: Visitor) -> None:
        """A whole request is here, or the one before it is answered."""
        if visitor.total_outbufs_len:
            visitor.hold_back()
        else:
            super().add_task(visitor)

    def set_socket_options(self, conn: socket.socket) -> None:
        super().set_socket_options(conn)
        conn.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, SENDING_BYTES)

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
        application: WSGIApplication,
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
            outbuf_high_watermark=BEYOND_REACH,
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
        self,
        application: WSGIApplication,
        sock: socket.socket | None,
        told: SocketInfo | None = None,
    ) -> _Porch:
        if sock is not None:
            told = (sock.family, sock.type, sock.proto, sock.getsockname())
        if sock is not None and sock.family not in (socket.AF_INET, socket.AF_INET6):
            kind = UnixPorch
        else:
            kind = TcpPorch
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
        for one in self.doors:
            one.close_those_who_go()
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


def behind(application: WSGIApplication, proxies: Iterable[object]) -> WSGIApplication:
    """The application as seen behind proxies: one of them may say that people came by TLS, nobody else."""
    networks = [ipaddress.ip_network(str(one), strict=False) for one in proxies]
    if not networks:
        return application

    def seen(environ: WSGIEnvironment, start_response: StartResponse) -> Iterable[bytes]:
        if environ.get("HTTP_X_FORWARDED_PROTO") == "https" and _is_in(
            environ.get("REMOTE_ADDR", ""), networks
        ):
            environ["wsgi.url_scheme"] = "https"
        return application(environ, start_response)

    return seen


def _is_in(address: str, networks: Iterable[ipaddress.IPv4Network | ipaddress.IPv6Network]) -> bool:
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
