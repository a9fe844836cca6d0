"""Whole numbers that a page carries along with a form, beside its fields."""

from __future__ import annotations


def whole(text: str) -> int:
    """The number a page sent back, 0 for anything else."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 19 else 0
