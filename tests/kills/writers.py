"""Visitors who write without a pause while processes are killed, and note what was acknowledged."""

from __future__ import annotations

import io
import random
import re
import secrets
import threading
import time

from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image

from tests.kills.house import Visitor

AT = "/at/larkfield/mill/"


def photo(shades: random.Random) -> bytes:
    """A photo like no other."""
    out = io.BytesIO()
    Image.frombytes("RGB", (40, 30), shades.randbytes(3600)).save(out, "PNG")
    return out.getvalue()


class Writer(threading.Thread):
    """Sends one thing after the other, each until it is acknowledged."""

    def __init__(self, visitor: Visitor, name: str, check: str = "") -> None:
        super().__init__(daemon=True)
        self.visitor, self.who, self.check = visitor, name, check
        self.shades = random.Random(name)
        self.acknowledged: list[str] = []
        self.sent: list[str] = []
        self.odd: list[str] = []
        self.stop = threading.Event()

    def run(self) -> None:
        while not self.stop.is_set():
            words = f"{self.who}-{len(self.sent)}"
            path, form = self._answer(words) if self.check else self._contact(words)
            if path:
                self.sent.append(words)
                self._until_acknowledged(words, path, form)

    def _until_acknowledged(self, words: str, path: str, form: dict) -> None:
        """Nothing but a redirect acknowledges. Without one the same is sent again, as a person would."""
        while not self.stop.is_set():
            for one in form.get("files", []):
                one.seek(0)
            status = self.visitor.send(path, form)
            if status == 302:
                self.acknowledged.append(words)
                return
            if status is not None and status < 500:
                self.odd.append(f"{words}: {status}")
                return
            time.sleep(0.1)

    def _contact(self, words: str) -> tuple[str, dict]:
        return f"{AT}add/contacts", {"new-contacts-name": words, "once": secrets.token_urlsafe(18)}

    def _answer(self, words: str) -> tuple[str, dict]:
        path = f"{AT}answer/{self.check}"
        page = self.visitor.get(path)
        if page is None:
            time.sleep(0.1)
            return "", {}
        seen = re.search(r'name="seen" value="(\d+)"', page)
        assert seen is not None
        form = {
            "state": "proven",
            "note": words,
            "seen": seen[1],
            "token": secrets.token_urlsafe(18),
            "files": [SimpleUploadedFile("photo.png", photo(self.shades))],
        }
        return path, form
