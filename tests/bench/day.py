"""The whole of a live demo site played through in a browser at 360 px, as a lead with a telephone would. Run:
python -m tests.bench.day [stage …]

Every step is begun and done, every check answered *proven* with the proof it wants, every gate signed; in stage 4
the line is cut for a dozen answers and comes back. Yardstick: the health page of the same server in the same
browser, fetched as often. Needs Chromium.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import socket
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request

from PIL import Image
from playwright.sync_api import Page, expect, sync_playwright

from tests.programs import program

AT = "/at/larkfield/mill/"
LEAD, PASSWORD = "noor@larkfield.example", "paper-and-pencil"
CUT_IN, CUT_FOR = 4, 12  # the stage in which the line is cut, and for how many answers


@contextlib.contextmanager
def server():
    """The demo house on a free port, on an embedded database in a temporary folder."""
    with tempfile.TemporaryDirectory() as folder:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            port = free.getsockname()[1]
        env = {**os.environ, "DESKWRIGHT_DATA": folder, "DESKWRIGHT_DEMO": "yes"}
        env.pop("DATABASE_URL", None)
        call = [sys.executable, "manage.py", "serve", "--demo", "--address", f"127.0.0.1:{port}"]
        run = subprocess.Popen(call, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        try:
            yield _awaited(f"http://127.0.0.1:{port}")
        finally:
            run.terminate()
            run.wait(20)


def _awaited(base: str) -> str:
    for _ in range(300):
        with contextlib.suppress(OSError):
            urllib.request.urlopen(f"{base}/health", timeout=2)
            return base
        time.sleep(0.5)
    raise SystemExit("The server did not start.")


def photo() -> bytes:
    out = io.BytesIO()
    Image.effect_noise((1600, 1200), 60).convert("RGB").save(out, "JPEG", quality=85)
    return out.getvalue()


class Player:
    """Plays run sheets; ``times`` are the seconds of each kind of act, from the press until it shows as sent."""

    def __init__(self, page: Page, base: str):
        self.page, self.base = page, base
        self.times: dict[str, list[float]] = {}
        self.picture = photo()
        self.offline = 0

    def stage(self, number: int) -> None:
        page = self.page
        with page.expect_response(re.compile("/whole")):
            page.goto(f"{self.base}{AT}run/{number}/")
        urls = page.eval_on_selector_all(
            "[data-list] a[href*='/run/']", "links => links.map(one => one.pathname)"
        )
        for place, url in enumerate(urls):
            if number == CUT_IN and place == 3:
                page.context.set_offline(True)
                self.offline = CUT_FOR
            page.locator(f"[data-list] a[href='{url}']").first.evaluate("one => one.click()")
            (self._check if "/check/" in url else self._step)()
            if self.offline:
                self.offline -= 1
                if not self.offline:
                    self._line_back()
        page.goto(f"{self.base}{AT}stages/{number}/")
        if page.get_by_role("button", name="Sign gate").count():
            page.get_by_role("button", name="Sign gate").click()
        expect(page.locator("#gate h2")).to_contain_text("signed")

    def _line_back(self) -> None:
        began = time.perf_counter()
        self.page.context.set_offline(False)
        expect(self.page.locator("[data-unsent]")).to_be_hidden(timeout=60_000)
        self.times.setdefault(f"{CUT_FOR} answers sent when the line is back", []).append(
            time.perf_counter() - began
        )

    def _step(self) -> None:
        page = self.page
        begin = page.locator("[data-one] button[value=start]")
        if begin.count():
            self._press("step begun", begin)
        done = page.locator("[data-one] button[value=done]")
        if done.count():
            self._press("step done", done)

    def _check(self) -> None:
        page = self.page
        form = page.locator("[data-one] form[data-run-form]").first
        if page.locator("[data-one] [aria-current=true][value=proven]").count():
            return
        wants = form.get_attribute("data-wants")
        form.locator("[name=note]").fill("Looked at it together with Tom Reed; it is so.")
        if wants == "value":
            low, high = (form.get_attribute(name) for name in ("data-low", "data-high"))
            ends = [float(end) for end in (low, high) if end]
            form.locator("[name=measured]").fill(f"{sum(ends) / len(ends):g}" if ends else "1")
        if wants == "photo":
            file = {"name": "seen.jpg", "mimeType": "image/jpeg", "buffer": self.picture}
            form.locator("input[type=file]").first.set_input_files(file)
            expect(page.locator("[data-one] [data-chosen] li")).to_be_visible()
        self._press(
            f"check proven with {'a photo' if wants == 'photo' else 'words'}",
            form.locator("[value=proven]"),
        )

    def _press(self, what: str, button) -> None:
        began = time.perf_counter()
        button.evaluate("one => one.click()")
        if not self.offline:
            shown = self.page.locator("[data-unsent]")
            self.page.wait_for_function(
                "() => !document.querySelector('[data-pending]')?.textContent.trim()"
            )
            expect(shown).to_be_hidden(timeout=30_000)
        self.times.setdefault(what if not self.offline else "kept without a line", []).append(
            time.perf_counter() - began
        )


def main(stages: list[int]) -> None:
    with server() as base, sync_playwright() as play:
        browser = play.chromium.launch(executable_path=program("chromium"), args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 360, "height": 740})
        page.goto(base)
        page.fill("input[type=email]", LEAD)
        page.fill("input[type=password]", PASSWORD)
        page.click("button.primary")
        page.wait_for_load_state()
        player = Player(page, base)
        whole = time.perf_counter()
        for number in stages:
            began = time.perf_counter()
            player.stage(number)
            print(f"stage {number}: {time.perf_counter() - began:6.1f} s, gate signed", flush=True)
        whole = time.perf_counter() - whole
        yardstick = statistics.median(_fetched(page, f"{base}/health") for _ in range(15))
        acts = sum(map(len, player.times.values()))
        print(
            f"all: {whole:.1f} s for {acts} acts; yardstick (health page): {1000 * yardstick:.0f} ms"
        )
        for what, times in sorted(player.times.items()):
            middle = statistics.median(times)
            print(
                f"{what:44} {len(times):4} × median {1000 * middle:6.0f} ms, longest {1000 * max(times):6.0f} ms, "
                f"{middle / yardstick:5.1f} × yardstick"
            )
        for name in ("print/build-book.pdf", "print/handover.zip"):
            began = time.perf_counter()
            size = len(page.request.get(f"{base}{AT}{name}").body())
            print(f"{name}: {size / 1e6:.2f} MB in {time.perf_counter() - began:.1f} s")
        browser.close()


def _fetched(page: Page, url: str) -> float:
    began = time.perf_counter()
    page.request.get(url).body()
    return time.perf_counter() - began


if __name__ == "__main__":
    main([int(one) for one in sys.argv[1:]] or list(range(2, 9)))
