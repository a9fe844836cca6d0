"""What a thing may cost: Python's own memory at its height, and time on the clock."""

from __future__ import annotations

import contextlib
import time
import tracemalloc
from collections.abc import Iterator


@contextlib.contextmanager
def bounded(*, mebibytes: float, seconds: float) -> Iterator[None]:
    """Fails when what is inside takes more memory beyond what was there, or longer. Measuring itself takes time:
    leave room for it."""
    tracemalloc.start()
    began = time.perf_counter()
    try:
        yield
        took, peak = time.perf_counter() - began, tracemalloc.get_traced_memory()[1] / 2**20
    finally:
        tracemalloc.stop()
    assert peak < mebibytes, f"{peak:.1f} MiB"
    assert took < seconds, f"{took:.2f} s"
