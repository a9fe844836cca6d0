"""Secrets that open something once: made here, given to one person, kept as a hash alone."""

from __future__ import annotations

import hashlib
import logging
import re
import secrets

BYTES = 32  # 256 bits: nobody guesses one
_IN_PATHS = re.compile(
    r"(/(?:invitation|pilot|let-in|you/address|sign-in/password/reset/key)/)[^/?\s]+"
)


def make() -> str:
    """A new secret, fit for an address of a page."""
    return secrets.token_urlsafe(BYTES)


def digest_of(secret: str) -> str:
    """What is kept of a secret."""
    return hashlib.sha256(secret.encode()).hexdigest()


def masked(text: str) -> str:
    """A path of a page, or a line with one, without the secret in it."""
    return _IN_PATHS.sub(r"\1…", text)


class WithoutSecrets(logging.Filter):
    """Keeps secrets of addresses out of the log: Django names the path of each refused request there."""

    def filter(self, record: logging.LogRecord) -> bool:
        record.msg = masked(str(record.msg))
        if isinstance(record.args, tuple):
            record.args = tuple(masked(one) if isinstance(one, str) else one for one in record.args)
        return True
