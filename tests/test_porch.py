"""The porch: who waits there, for how long, and who must make room. A real house, in this process."""

import contextlib
import socket
import threading
import time

import pytest

from planner.serving import porch


def application(environ, start_response):
    time.sleep({"/long": 0.5, "/longer": 2.5}.get(environ["PATH_INFO"], 0))
    body = environ["wsgi.input"].read()
    start_response("200 OK", [("Content-Type", "text/plain")])
    return [f"{environ['wsgi.url_scheme']} {len(body)}".encode()]


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
    one = socket.create_connection(("127.0.0.1", port), 5)
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


def test_only_a_trusted_proxy_says_that_people_came_by_tls(opened):
    told = "X-Forwarded-Proto: https\r\n"
    assert get(opened(), more=told).endswith(b"http 0")
    assert get(opened(porch.behind(application, ["192.0.2.0/24"])), more=told).endswith(b"http 0")
    assert get(opened(porch.behind(application, ["127.0.0.0/8", "::1"])), more=told).endswith(
        b"https 0"
    )


def test_an_answer_that_took_long_is_not_taken_for_one_that_nobody_takes(opened, monkeypatch):
    flush = porch.Visitor._flush_some

    def slowly(self, do_close=True):
        if threading.current_thread().name.startswith("waitress"):
            time.sleep(1.3)  # the loop looks after everybody meanwhile
        return flush(self, do_close)

    monkeypatch.setattr(porch.Visitor, "_flush_some", slowly)
    assert get(opened(IDLE_SECONDS=2), "/longer").endswith(b"http 0")


def test_who_does_not_take_an_answer_is_let_go(opened):
    def large(environ, start_response):
        start_response("200 OK", [("Content-Length", "30000000")])
        return [b"a" * 30_000_000]

    port = opened(large, IDLE_SECONDS=1)
    with connect(port, b"GET / HTTP/1.1\r\nHost: x\r\n\r\n") as one:
        time.sleep(4)
        taken = 0
        with contextlib.suppress(ConnectionError):
            while got := len(one.recv(1 << 20)):
                taken += got
    assert 0 < taken < 30_000_000


def test_what_was_begun_is_finished_when_the_house_closes(opened):
    port, found = opened(), []
    thread = threading.Thread(target=lambda: found.append(get(port, "/long")))
    thread.start()
    time.sleep(0.2)
    opened.over.set()
    thread.join(5)
    assert found[0].endswith(b"http 0")
    with pytest.raises(OSError):
        get(port)


def test_a_request_without_end_is_noticed(opened, monkeypatch):
    port = opened()
    house = opened.houses[0][0]
    thread = threading.Thread(target=get, args=(port, "/long"))
    thread.start()
    time.sleep(0.2)
    assert not house.stuck
    monkeypatch.setattr(porch, "LONGEST_SECONDS", 0.05)
    assert house.stuck
    thread.join(5)
    time.sleep(0.1)
    assert not house.stuck and house.served == 1
