"""A real browser, when there is one."""

import os
import pathlib
import shutil
import threading
import time

import pytest
from django.core.signals import request_finished, request_started

CHROMIUM = shutil.which("chromium") or "/usr/bin/chromium"
os.environ.setdefault(
    "DJANGO_ALLOW_ASYNC_UNSAFE", "true"
)  # the driver keeps a loop of its own in this thread


class UnderWay:
    """Requests that the live server has begun and not ended. A closed page may leave one behind, and the database
    must not be emptied under it."""

    def __init__(self):
        self.count, self.lock = 0, threading.Lock()
        request_started.connect(self.begun, weak=False)
        request_finished.connect(self.ended, weak=False)

    def begun(self, **words):
        with self.lock:
            self.count += 1

    def ended(self, **words):
        with self.lock:
            self.count -= 1

    def wait(self, base: int, quiet: float = 0.15, most: float = 10.0) -> None:
        """Until nothing beyond ``base`` has been under way for a moment."""
        end, still = time.monotonic() + most, time.monotonic()
        while time.monotonic() < end and time.monotonic() - still < quiet:
            time.sleep(0.01)
            if self.count > base:
                still = time.monotonic()


UNDER_WAY = UnderWay()


@pytest.fixture(scope="session")
def browser():
    if not pathlib.Path(CHROMIUM).exists():
        if os.environ.get("DESKWRIGHT_NO_SKIP"):
            pytest.fail("chromium is not installed, and nothing may be skipped here")
        pytest.skip("chromium is not installed (Debian package: chromium)")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        # “testserver” is this machine by a name that no browser trusts: as a page over plain HTTP is elsewhere
        args = ["--no-sandbox", "--host-resolver-rules=MAP testserver 127.0.0.1"]
        found = driver.chromium.launch(executable_path=CHROMIUM, args=args)
        yield found
        found.close()


@pytest.fixture
def open_page(browser, live_server):
    """Opens a page as somebody: ``open_page(email, width=360, scheme="dark")``; collects console errors."""
    contexts, errors, base = [], [], UNDER_WAY.count

    def opened(email: str = "", *, width: int = 1440, scheme: str = "light", script: bool = True):
        context = browser.new_context(
            viewport={"width": width, "height": 900},
            color_scheme=scheme,
            java_script_enabled=script,
            base_url=live_server.url,
        )
        contexts.append(context)
        page = context.new_page()
        page.on("console", lambda said: errors.append(said.text) if said.type == "error" else None)
        page.on("pageerror", lambda error: errors.append(str(error)))
        if email:
            page.goto("/")
            page.get_by_label("Email").fill(email)
            page.get_by_label("Password").fill("paper-and-pencil")
            page.get_by_role("button", name="Sign in").click()
            page.get_by_role("heading", name="Sites", exact=True).wait_for()
        return page

    opened.errors = errors
    yield opened
    for context in contexts:
        context.close()
    UNDER_WAY.wait(base)
