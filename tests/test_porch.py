"""The porch: who waits there, for how long, and who must make room. A real house, in this process."""

import contextlib
import random
import re
import socket
import threading
import time

import pytest

from planner.serving import porch

WAIT = 20  # seconds until a test gives up: nothing here takes so long


def application(environ, start_response):
    body = environ["wsgi.input"].read()
    start_response("200 OK", [("Content-Type", "text/plain")])
    return [f"{environ['wsgi.url_scheme']} {len(body)}".encode()]


class Held:
    """An application that is in the midst of a request until it is told to go on."""

    def __init__(self):
        self.begun, self.go_on = threading.Event(), threading.Event()

    def __call__(self, environ, start_response):
        self.begun.set()
        assert self.go_on.wait(WAIT)
        return application(environ, start_response)


def large(environ, start_response):
    """An answer that no system keeps for somebody who does not take it."""
    if environ["PATH_INFO"] == "/small":
        return application(environ, start_response)
    start_response("200 OK", [("Content-Length", str(LARGE))])
    return [b"a" * LARGE]


LARGE = 30_000_000


def until(true) -> None:
    """Waits until something is so."""
    end = time.monotonic() + WAIT
    while not true():
        assert time.monotonic() < end
        time.sleep(0.02)


@pytest.fixture
def opened(monkeypatch):
    """Opens a house whose bounds are as told; gives its port. It is closed at the end."""
    houses, over = [], threading.Event()

    def made(app=application, **bounds) -> int:
        for name, value in bounds.items():
            monkeypatch.setattr(porch, name, value)
        house = porch.House(app, 2, listen="127.0.0.1:0")
        thread = threading.Thread(target=turn, args=(house,), daemon=True)
        thread.start()
        houses.append((house, thread))
        return int(house.doors[0].effective_port)

    def turn(house):
        while not over.is_set():
            house.look(0.05)
        house.leave(3, lambda: None)

    made.houses, made.over = houses, over
    yield made
    over.set()
    for _, thread in houses:
        thread.join(10)


def connect(port: int, said: bytes = b"") -> socket.socket:
    one = socket.create_connection(("127.0.0.1", port), WAIT)
    one.sendall(said)
    return one


def get(port: int, path: str = "/", more: str = "") -> bytes:
    with connect(
        port, f"GET {path} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n{more}\r\n".encode()
    ) as one:
        return b"".join(iter(lambda: one.recv(4096), b""))


def ended(one: socket.socket, seconds: float) -> bool:
    """Whether the other side closes within so many seconds."""
    one.settimeout(seconds)
    try:
        return one.recv(1) == b""
    except ConnectionError:
        return True
    except TimeoutError:
        return False


def test_a_whole_request_is_answered(opened):
    assert get(opened()).endswith(b"http 0")


def test_a_head_that_does_not_come_to_its_end_is_let_go(opened):
    port = opened(HEAD_SECONDS=0.3, BODY_SECONDS=30)
    one = connect(port, b"GET / HTTP/1.1\r\nX-Long: a")
    other = connect(port, b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 10\r\n\r\n")
    assert ended(one, 4) and not ended(other, 0.2)


def test_a_body_slower_than_the_least_is_let_go_and_a_faster_one_is_taken(opened):
    port = opened(BODY_SECONDS=0.3, SLOWEST=20)
    slow = connect(port, b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 400\r\n\r\n")
    fast = connect(
        port, b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 400\r\nConnection: close\r\n\r\n"
    )
    for _ in range(8):
        fast.sendall(b"a" * 50)
        time.sleep(0.25)
    assert ended(slow, 3)
    fast.settimeout(5)
    assert b"http 400" in b"".join(iter(lambda: fast.recv(4096), b""))


def test_who_waits_without_a_request_makes_room_for_a_newcomer(opened):
    port = opened(CONNECTIONS=12)
    waiting = [connect(port, b"GET / HT") for _ in range(30)]
    assert get(port).endswith(b"http 0")
    for one in waiting:
        one.close()


def test_bodies_that_are_not_whole_hold_no_more_than_they_may(opened):
    port = opened(HELD_BYTES=3_000_000)
    head = b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 5000000\r\n\r\n"
    large = connect(port, head + b"a" * 4_000_000)
    small = connect(port, head + b"a" * 1000)
    assert ended(large, 5) and not ended(small, 0.2)


def test_a_head_and_a_body_have_a_size(opened):
    port = opened(BODY_BYTES=1000)
    head = b"GET / HTTP/1.1\r\nX-Long: "
    with connect(port, head + b"a" * (porch.HEAD_BYTES - len(head))) as one:
        assert b" 431 " in one.recv(4096)
    assert b" 413 " in get(port, more="Content-Length: 1001\r\n")


LARGE_BODY = b"POST / HTTP/1.1\r\nHost: x\r\nContent-Length: 6000000\r\n\r\n" + b"a" * 6_000_000


def test_who_sends_too_much_is_heard_out_and_reads_what_to_do(opened):
    """All of it is sent before the first byte is read, as browsers do: no reset takes the page away."""
    port = opened(BODY_BYTES=1000)
    with connect(port, LARGE_BODY) as one:
        answer = b"".join(iter(lambda: one.recv(4096), b""))
    assert answer.startswith(b"HTTP/1.1 413 ") and b"in smaller parts" in answer
    assert b"no-store" in answer and b"default-src 'none'" in answer
    assert get(port).endswith(b"http 0")


def test_who_never_ends_is_not_heard_out_for_ever(opened):
    port = opened(BODY_BYTES=1000, BODY_SECONDS=1)
    with connect(port, LARGE_BODY[:100_000]) as one:
        assert b" 413 " in one.recv(4096)
        until(lambda: not opened.houses[0][0]._visitors())


def broken_requests(count: int, seed: int):
    """Requests as nobody honest sends them: cut off, bent, doubled, in odd signs, and some that are nothing at all."""
    odd = random.Random(seed)
    pieces = [
        b"GET",
        b"POST",
        b"PRI *",
        b" ",
        b"  ",
        b"/",
        b"*",
        b"//x.example/",
        b"/%00%ff%zz",
        b"/\xff\xfe",
        b" HTTP/1.1",
        b" HTTP/9.9",
        b"\r\n",
        b"\n",
        b"\r",
        b"\x00",
        b"Host: x",
        b"Host: a\r\nHost: b",
        b"Content-Length: 5",
        b"Content-Length: -1",
        b"Content-Length: +5",
        b"Content-Length: " + b"9" * 40,
        b"Content-Length: 5\r\nContent-Length: 6",
        b"Transfer-Encoding: chunked",
        b"Transfer-Encoding: chunked, chunked",
        b"Transfer-Encoding: \x0bchunked",
        b"Expect: 100-continue",
        b"Connection: close",
        b": no name",
        b" folded",
        b"X\xc2\xad: y",
        b"5\r\nhello\r\n0\r\n\r\n",
        b"ffffffffffffffff\r\n",
        b"-1\r\n",
        b"5;a=b\r\nhello\r\n",
        b"hello",
    ]
    whole = b"POST /a?b=c HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\n\r\nhello"
    for number in range(count):
        if number % 3 == 0:
            yield b"".join(odd.choice(pieces) for _ in range(odd.randint(1, 14)))
        elif number % 3 == 1:
            head = [odd.choice(pieces) for _ in range(odd.randint(0, 5))]
            yield b"\r\n".join([b"POST / HTTP/1.1", *head, b"", odd.choice(pieces)])
        else:
            bent = bytearray(whole)
            for _ in range(odd.randint(1, 4)):
                bent[odd.randrange(len(bent))] = odd.randrange(256)
            yield bytes(bent[: odd.randint(1, len(bent))])


def test_no_request_breaks_the_porch(opened, caplog):
    """Whatever comes in is answered as a request, refused in words, or let go; nothing is ever taken for a fault of
    ours, and whoever comes next is answered."""
    port = opened()
    codes = set()
    for said in broken_requests(600, seed=11):
        with connect(port, said) as one, contextlib.suppress(ConnectionError):
            one.shutdown(socket.SHUT_WR)
            answer = b"".join(iter(lambda one=one: one.recv(65536), b""))
            codes.update(map(int, re.findall(rb"HTTP/1\.[01] (\d{3}) ", answer)))
    assert codes == {100, 200, 400, 413, 501}, codes
    assert get(port).endswith(b"http 0")
    assert not [one for one in caplog.records if one.levelname in ("ERROR", "CRITICAL")]


def test_only_a_trusted_proxy_says_that_people_came_by_tls(opened):
    told = "X-Forwarded-Proto: https\r\n"
    assert get(opened(), more=told).endswith(b"http 0")
    assert get(opened(porch.behind(application, ["192.0.2.0/24"])), more=told).endswith(b"http 0")
    assert get(opened(porch.behind(application, ["127.0.0.0/8", "::1"])), more=told).endswith(
        b"https 0"
    )


def test_an_answer_that_took_long_is_not_taken_for_one_that_nobody_takes(opened, monkeypatch):
    flush, looked_at = porch.Visitor._flush_some, []

    def slowly(self, do_close=True):
        if threading.current_thread().name.startswith("waitress"):
            before = len(looked_at)
            until(lambda: len(looked_at) > before)  # the loop looks after everybody meanwhile
        return flush(self, do_close)

    def looking(self, now):
        looked_at.append(now)
        return look_after(self, now)

    look_after = porch._Porch.maintenance
    monkeypatch.setattr(porch._Porch, "maintenance", looking)
    monkeypatch.setattr(porch.Visitor, "_flush_some", slowly)
    held = Held()
    port = opened(held, IDLE_SECONDS=4)
    found = []
    thread = threading.Thread(target=lambda: found.append(get(port)))
    thread.start()
    assert held.begun.wait(WAIT)
    time.sleep(4.5)  # longer than nothing may move
    held.go_on.set()
    thread.join(WAIT)
    assert found[0].endswith(b"http 0")


def told_to_take_little(port: int, said: bytes, kept: int = 1024) -> socket.socket:
    """Somebody whose own system keeps next to nothing of an answer."""
    one = socket.socket()
    one.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, kept)
    one.settimeout(WAIT)
    one.connect(("127.0.0.1", port))
    one.sendall(said)
    return one


ASKS = b"GET / HTTP/1.1\r\nHost: x\r\n\r\n"


def all_of_it(one: socket.socket) -> int:
    taken = 0
    with contextlib.suppress(ConnectionError):
        while got := len(one.recv(1 << 20)):
            taken += got
    return taken


def test_who_does_not_take_an_answer_is_let_go(opened):
    port = opened(large, IDLE_SECONDS=1)
    house = opened.houses[0][0]
    with told_to_take_little(port, ASKS) as one:
        until(lambda: house.served == 1)
        until(lambda: not house._visitors())
        assert 0 < all_of_it(one) < LARGE


def test_an_answer_that_is_taken_too_slowly_is_let_go(opened):
    """Something is taken all the time: that alone keeps nobody here."""
    port = opened(large, IDLE_SECONDS=1, SLOWEST=100_000_000)
    taken = 0
    with told_to_take_little(port, ASKS, 100_000) as one, contextlib.suppress(ConnectionError):
        while got := len(one.recv(100_000)):
            taken += got
            time.sleep(0.02)
    assert 0 < taken < LARGE


def test_an_answer_that_is_taken_at_a_fair_speed_comes_whole(opened):
    port = opened(large, IDLE_SECONDS=1, SLOWEST=100_000)
    asks = b"GET / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
    with told_to_take_little(port, asks, 100_000) as one:
        taken, end = 0, time.monotonic() + 3
        while time.monotonic() < end:
            taken += len(one.recv(100_000))
            time.sleep(0.05)
        assert taken + all_of_it(one) > LARGE


def test_who_takes_nothing_holds_no_thread(opened):
    """Two threads, six who ask for much and take nothing: the threads are free, and a seventh is answered."""
    port = opened(large)
    greedy = [told_to_take_little(port, ASKS * 4) for _ in range(6)]
    house = opened.houses[0][0]
    until(lambda: house.served >= 6)
    assert get(port, "/small").endswith(b"http 0")
    until(
        lambda: house.served == 7
    )  # of each greedy one a single answer lies there, the next is not begun
    for one in greedy:
        one.close()


def test_requests_sent_ahead_are_answered_one_after_the_other(opened):
    port = opened(large)
    last = b"GET /small HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
    with connect(port, ASKS * 2 + last) as one:
        assert 2 * LARGE < all_of_it(one) < 2 * LARGE + 2000


def test_more_requests_than_may_be_sent_ahead_are_none(opened):
    held = Held()
    port = opened(held)
    with connect(port, ASKS * (porch.MOST_AT_ONCE + 1)) as one:
        assert ended(one, WAIT)
    held.go_on.set()
    assert get(port).endswith(b"http 0")


def test_who_takes_no_answer_makes_room_for_a_newcomer(opened):
    port = opened(large, CONNECTIONS=24)
    house = opened.houses[0][0]
    greedy = [told_to_take_little(port, ASKS * 3) for _ in range(60)]
    for _ in range(3):
        assert get(port, "/small").endswith(b"http 0")
    until(lambda: len(house._visitors()) <= 18)
    for one in greedy:
        one.close()


def test_a_newcomer_is_never_the_one_who_goes(opened):
    """All others are worked for: the newcomer is let in all the same, and answered."""
    held = Held()
    port = opened(held, CONNECTIONS=16)
    house = opened.houses[0][0]
    others = [connect(port, ASKS) for _ in range(12)]
    until(lambda: len(house._visitors()) == 12)
    found = []
    thread = threading.Thread(target=lambda: found.append(get(port)))
    thread.start()
    until(lambda: len(house._visitors()) == 13)
    held.go_on.set()
    thread.join(WAIT)
    assert found[0].endswith(b"http 0")
    for one in others:
        one.close()


def test_what_was_begun_is_finished_when_the_house_closes(opened):
    held, found = Held(), []
    port = opened(held)
    thread = threading.Thread(target=lambda: found.append(get(port)))
    thread.start()
    assert held.begun.wait(WAIT)
    opened.over.set()
    until(lambda: not opened.houses[0][0].doors[0].accepting)
    held.go_on.set()
    thread.join(WAIT)
    assert found[0].endswith(b"http 0")
    with pytest.raises(OSError):
        get(port)


def test_a_request_without_end_is_noticed(opened, monkeypatch):
    held = Held()
    port = opened(held)
    house = opened.houses[0][0]
    thread = threading.Thread(target=get, args=(port,))
    thread.start()
    assert held.begun.wait(WAIT)
    assert not house.stuck
    monkeypatch.setattr(porch, "LONGEST_SECONDS", 0)
    until(lambda: house.stuck)
    held.go_on.set()
    thread.join(WAIT)
    until(lambda: house.served == 1)
    assert not house.stuck
