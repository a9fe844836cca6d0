"""What is written so that a cut of power cannot take it away once it was acknowledged.

A file is whole on the disk after ``fsync`` of the file; its *name* is there after ``fsync`` of its folder, and the
folder's name after that of the folder above it. Source: POSIX.1-2017, fsync and rename, and fsync(2) of Linux.
"""

from __future__ import annotations

import contextlib
import os
import pathlib
import tempfile

HALF = ".half-"  # how the name of a file begins that is still being written


def write_whole(path: pathlib.Path, content: bytes, *, root: pathlib.Path) -> None:
    """Puts ``content`` at ``path``, below ``root``, for good: after this neither a kill nor a cut of power loses it.

    What is there already is believed only when it is the same, byte by byte. ``root`` must be there for good itself
    or be made here. Raises ``OSError`` when the disk does not take it; then nothing new stands at ``path``.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    if _holds(path, content):
        _sync(path)  # whoever wrote it may not have come so far
    else:
        _write_beside(path, content)
    folder = path.parent
    while folder != root.parent:
        _sync(folder)
        folder = folder.parent
    _sync(folder)  # the root's own name


def _holds(path: pathlib.Path, content: bytes) -> bool:
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
