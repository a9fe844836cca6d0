"""Ports for servers of tests."""

from __future__ import annotations

import random
import socket

# Below those that a system gives to whoever connects somewhere (Linux: from 32768): nobody gets one by chance between
# our look at it and the server's start, and two processes of the tests hardly ever draw the same.
OURS = range(15_000, 32_000)
TRIES = 100


def free_port() -> int:
    """A port that nobody listens at just now."""
    drawing = random.SystemRandom()
    for _ in range(TRIES):
        port = drawing.choice(OURS)
        with socket.socket() as one:
            try:
                one.bind(("127.0.0.1", port))
            except OSError:
                continue
        return port
    raise AssertionError("no port is free")
