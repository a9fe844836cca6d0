"""Not written yet."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Placement:
    pass


def work_out(*args) -> Placement:
    return Placement()
