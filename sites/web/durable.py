"""What is written so that a cut of power cannot take it away once it was acknowledged.

A file is whole on the disk after ``fsync`` of the file; its *name* is there after ``fsync`` of its folder, and the
folder's name after that of the folder above it. Source: POSIX.1-2017, fsync and rename, and fsync(2) of Linux.
"""

from __future__ import annotations

import contextlib
import os
import pathlib
import tempfile
import time
from collections.abc import Iterable, Mapping

HALF = ".half-"  # how the name of a file begins that is still being written
HALF_SECONDS = 3600  # nobody writes so long at one


def write_whole(files: Mapping[pathlib.Path, bytes], *, root: pathlib.Path) -> None:
    """Puts each content at its path, below ``root``, for good: after this neither a kill nor a cut of power loses it.

    What is there already is believed only when it is the same, byte by byte. ``root`` must be there for good itself
    or be made here. Raises ``OSError`` when the disk does not take it; then no half file stands anywhere.
    """
    for path, content in files.items():
        path.parent.mkdir(parents=True, exist_ok=True)
        if holds(path, content):
            _sync(path)  # whoever wrote it may not have come so far
        else:
            _write_beside(path, content)
    for folder in _folders_of(files, root):
        _sync(folder)


def _folders_of(files: Iterable[pathlib.Path], root: pathlib.Path) -> list[pathlib.Path]:
    """Every folder whose names may be new, once, the innermost first; last the one that the root stands in."""
    found = set()
    for path in files:
        folder = path.parent
        while folder != root.parent:
            found.add(folder)
            folder = folder.parent
    if not found:
        return []
    return [*sorted(found, key=lambda folder: (-len(folder.parts), folder)), root.parent]


def sweep_halves(root: pathlib.Path) -> int:
    """Takes away what processes that were killed left half written; gives how many files. A young one may belong to
    another process that writes it just now."""
    old = time.time() - HALF_SECONDS
    swept = 0
    for path in root.rglob(f"{HALF}*"):
        with contextlib.suppress(FileNotFoundError):
            if path.stat().st_mtime < old:
                path.unlink()
                swept += 1
    return swept


def holds(path: pathlib.Path, content: bytes) -> bool:
    """Whether a file is there, byte by byte."""
    try:
        return path.stat().st_size == len(content) and path.read_bytes() == content
    except FileNotFoundError:
        return False


def _write_beside(path: pathlib.Path, content: bytes) -> None:
    """Writes under another name and moves it into place: nobody ever sees half of it."""
    handle, half = tempfile.mkstemp(dir=path.parent, prefix=HALF)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        os.replace(half, path)
    except BaseException:
        with contextlib.suppress(OSError):
            os.unlink(half)
        raise


def _sync(path: pathlib.Path) -> None:
    """Waits until a file, or the names in a folder, are on the disk."""
    if os.name == "nt" and path.is_dir():
        return  # Windows opens no folder; NTFS keeps a journal of names
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def commit_waits(sender, connection, **kwargs) -> None:
    """On a PostgreSQL whose own setting lets a commit return before it is on the disk: waits for it here."""
    if connection.vendor != "postgresql":
        return
    with connection.cursor() as cursor:
        cursor.execute("SHOW synchronous_commit")
        if cursor.fetchone()[0] == "off":
            cursor.execute("SET synchronous_commit = on")
