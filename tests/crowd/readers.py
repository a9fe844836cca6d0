"""Readers who all fetch the large site's book at once, while somebody else opens a page again and again."""

from __future__ import annotations

import html
import http.client
import re
import threading
import time
from dataclasses import dataclass

BROKEN = 0  # the status of a connection that was broken off
MOST = 240.0  # seconds for all of it
PAUSE = 0.1  # between two pages
_AGAIN = re.compile(r'http-equiv="refresh" content="(\d+);url=([^"]+)"')


@dataclass(frozen=True)
class Got:
    """What somebody got in the end, after so many seconds and so many pages that asked to wait."""

    who: str
    status: int
    seconds: float
    waited: int = 0
    pdf: bool = False


class Readers:
    """So many of the seeded people fetch the book; the last of them opens the brief."""

    def __init__(self, port: int, seeded: dict, count: int = 10) -> None:
        self.port, self.site = port, seeded["site"]
        self.readers, self.other = seeded["people"][:count], seeded["people"][-1]

    def alone(self) -> float:
        """The middle seconds of the brief while nobody fetches anything. The first ones do not count: each process
        reads the catalogue at its first page."""
        found = [self._ask(self.other, "brief/").seconds for _ in range(14)][6:]
        return sorted(found)[len(found) // 2]

    def run(self) -> tuple[list[Got], list[Got]]:
        """What became of each book, and of each page asked meanwhile."""
        books: list[Got] = []

        def fetch(person: dict) -> None:
            books.append(self._fetch(person))

        threads = [threading.Thread(target=fetch, args=(one,), daemon=True) for one in self.readers]
        for one in threads:
            one.start()
        pages = []
        end = time.monotonic() + MOST
        while any(one.is_alive() for one in threads) and time.monotonic() < end:
            pages.append(self._ask(self.other, "brief/"))
            time.sleep(PAUSE)
        for one in threads:
            one.join(60)
        return books, pages

    def _fetch(self, person: dict) -> Got:
        """As a browser without JavaScript does: it follows the page's own refresh."""
        began, path, waited = time.monotonic(), self.site + "print/build-book.pdf", 0
        while True:
            status, body = self._get(person, path)
            again = _AGAIN.search(body.decode(errors="replace")) if status == 202 else None
            if again is None or time.monotonic() - began > MOST:
                return Got(
                    person["name"],
                    status,
                    time.monotonic() - began,
                    waited,
                    body.startswith(b"%PDF-"),
                )
            waited += 1
            time.sleep(int(again[1]))
            path = html.unescape(again[2])

    def _ask(self, person: dict, page: str) -> Got:
        began = time.monotonic()
        status, body = self._get(person, self.site + page)
        assert status != 200 or person["name"] in body.decode()
        return Got(person["name"], status, time.monotonic() - began)

    def _get(self, person: dict, path: str) -> tuple[int, bytes]:
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=MOST)
        try:
            connection.request(
                "GET", path, headers={"Cookie": person["cookie"], "Accept": "text/html,*/*;q=0.8"}
            )
            answer = connection.getresponse()
            return answer.status, answer.read()
        except (OSError, http.client.HTTPException):
            return BROKEN, b""
        finally:
            connection.close()

    def told(self, books: list[Got], pages: list[Got]) -> str:
        """Both in words."""
        made, waits = sum(one.pdf for one in books), sum(one.waited for one in books)
        last = max(one.seconds for one in books)
        slow = sorted(one.seconds for one in pages)
        return (
            f"books: {made} of {len(books)}, the last after {last:.1f} s, {waits} waiting pages; "
            f"pages meanwhile: {len(slow)}, middle {slow[len(slow) // 2]:.2f} s, slowest {slow[-1]:.2f} s"
        )
