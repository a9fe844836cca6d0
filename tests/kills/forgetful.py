"""A disk that forgets what was not synced: the record of a process's calls, replayed up to any moment.

``strace`` writes down what a process asks of the system. Replayed here, a file holds for good what was written before
its last ``fsync`` (or ``fdatasync``), and a folder those names that were there at its own. At a cut of power the rest
is gone, or any part of it is there: a disk writes in the order it likes. Source: POSIX.1-2017, fsync and rename.

Not modelled: half a write (a page of 4,096 bytes comes whole or not at all), a disk that lies about a sync.
"""

from __future__ import annotations

import pathlib
import random
import re
from collections.abc import Iterator
from dataclasses import dataclass, field

CALLS = (
    "openat,open,creat,close,dup,dup2,dup3,write,pwrite64,writev,pwritev,pwritev2,lseek,ftruncate,fallocate,"
    "fsync,fdatasync,rename,renameat,renameat2,link,linkat,unlink,unlinkat,mkdir,mkdirat,rmdir,copy_file_range,sendfile"
)
FORGOTTEN = "-shm"  # SQLite's index of the log lives in memory and is made anew
_LINE = re.compile(r"^(\d+) +(\w+)\((.*)\) += (-?\d+)")
_PARTED = re.compile(r"^(\d+) +(\w+)\((.*) <unfinished \.\.\.>$")
_RESUMED = re.compile(r"^(\d+) +<\.\.\. (\w+) resumed>(.*)$")
_TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"(\.\.\.)?')


@dataclass
class Call:
    """One call that came back: its words without texts, its texts, what it gave."""

    name: str
    words: str
    texts: list[bytes]
    gave: int

    @property
    def numbers(self) -> list[int]:
        return [int(one) for one in re.findall(r"(?<![\w.])-?\d+(?![\w.])", self.words)]


def calls(record: pathlib.Path) -> Iterator[Call]:
    """The calls of a record in the order in which they came back. Raises ``ValueError`` for a shortened text."""
    begun: dict[str, str] = {}
    for line in record.read_text().splitlines():
        parted = _PARTED.match(line)
        if parted:
            begun[parted[1]] = f"{parted[2]}({parted[3]}"
            continue
        resumed = _RESUMED.match(line)
        if resumed:
            line = f"{resumed[1]} {begun.pop(resumed[1])}{resumed[3]}"
        found = _LINE.match(line)
        if not found or int(found[4]) < 0:
            continue
        texts = _TEXT.findall(found[3])
        if any(shortened for _, shortened in texts):
            raise ValueError("a text of the record is shortened")
        plain = [bytes.fromhex(text.replace("\\x", "")) for text, _ in texts]
        yield Call(found[2], _TEXT.sub("TEXT", found[3]), plain, int(found[4]))


@dataclass
class File:
    """What a file holds for good, and what was done to it since its last sync: (where, what), or a new length."""

    kept: bytes = b""
    since: list[tuple[int, bytes | None]] = field(default_factory=list)

    def sync(self) -> None:
        self.kept, self.since = _done(self.kept, self.since), []

    def after_cut(self, chance: random.Random | None) -> bytes:
        """Without ``chance`` all is lost that may be lost; with it any part of it."""
        luck = [one for one in self.since if chance.random() < 0.5] if chance else []
        return _done(self.kept, luck)

    @property
    def now(self) -> bytes:
        return _done(self.kept, self.since)


def _done(content: bytes, changes: list[tuple[int, bytes | None]]) -> bytes:
    held = bytearray(content)
    for at, written in changes:
        if written is None:
            held = held[:at] + bytes(max(0, at - len(held)))
            continue
        held += bytes(max(0, at - len(held)))
        held[at : at + len(written)] = written
    return bytes(held)


@dataclass
class Folder:
    """The names in a folder for good, and what was done to them since: (name, what it names or ``None``)."""

    kept: dict[str, File | Folder] = field(default_factory=dict)
    since: list[tuple[tuple[str, File | Folder | None], ...]] = field(default_factory=list)

    def sync(self) -> None:
        self.kept, self.since = self._with(len(self.since)), []

    def _with(self, count: int) -> dict[str, File | Folder]:
        names = dict(self.kept)
        for change in self.since[:count]:
            for name, what in change:
                if what is None:
                    names.pop(name, None)
                else:
                    names[name] = what
        return names

    @property
    def now(self) -> dict[str, File | Folder]:
        return self._with(len(self.since))

    def after_cut(self, chance: random.Random | None) -> dict[str, File | Folder]:
        """Names come onto the disk in order, as far as they came."""
        return self._with(chance.randint(0, len(self.since)) if chance else 0)


@dataclass
class Handle:
    """An open file or folder, and where it is written next."""

    what: File | Folder
    at: int = 0


class Disk:
    """Files and folders below ``root`` as a process changes them. All that is there at first is there for good."""

    def __init__(self, root: pathlib.Path) -> None:
        self.root = root
        self.top = _read(root)
        self.open: dict[int, Handle] = {}
        self.said: list[str] = []

    def do(self, call: Call) -> None:
        act = getattr(self, f"_{call.name}", None)
        if act is not None:
            act(call)

    def lay_out(self, place: pathlib.Path, chance: random.Random | None = None) -> None:
        """Writes what is there after a cut of power into an empty folder."""
        _write(self.top, place, chance)

    # -- where something is -----------------------------------------------------------------------

    def _place(self, path: bytes) -> tuple[Folder, str] | None:
        """The folder that a path leads to and the name in it; ``None`` for one outside."""
        whole = pathlib.Path(path.decode())
        if not whole.is_absolute() or not whole.is_relative_to(self.root) or whole == self.root:
            return None
        folder = self.top
        *above, name = whole.relative_to(self.root).parts
        for part in above:
            found = folder.now[part]
            assert isinstance(found, Folder)
            folder = found
        return folder, name

    # -- what a process does ----------------------------------------------------------------------

    def _openat(self, call: Call) -> None:
        self.open.pop(call.gave, None)
        if call.texts[0].decode() == str(self.root):
            self.open[call.gave] = Handle(self.top)
            return
        place = self._place(call.texts[0])
        if place is None:
            return
        folder, name = place
        found = folder.now.get(name)
        if found is None:
            found = File()
            folder.since.append(((name, found),))
        handle = Handle(found)
        if isinstance(found, File) and "O_TRUNC" in call.words:
            found.since.append((0, None))
        if isinstance(found, File) and "O_APPEND" in call.words:
            handle.at = len(found.now)
        self.open[call.gave] = handle

    _open = _openat

    def _close(self, call: Call) -> None:
        self.open.pop(call.numbers[0], None)

    def _dup(self, call: Call) -> None:
        if call.numbers[0] in self.open:
            self.open[call.gave] = self.open[call.numbers[0]]

    _dup2 = _dup3 = _dup

    def _file(self, call: Call) -> Handle | None:
        return self.open.get(call.numbers[0])

    def _lseek(self, call: Call) -> None:
        if handle := self._file(call):
            handle.at = call.gave

    def _write(self, call: Call) -> None:
        content = b"".join(call.texts)[: call.gave]
        if call.numbers[0] == 1 and content.startswith(b"done "):
            self.said.append(content.decode().removeprefix("done ").strip())
        elif handle := self._file(call):
            assert isinstance(handle.what, File)
            handle.what.since.append((handle.at, content))
            handle.at += call.gave

    _writev = _write

    def _pwrite64(self, call: Call) -> None:
        if handle := self._file(call):
            assert isinstance(handle.what, File)
            handle.what.since.append((call.numbers[-1], b"".join(call.texts)[: call.gave]))

    def _ftruncate(self, call: Call) -> None:
        if handle := self._file(call):
            assert isinstance(handle.what, File)
            handle.what.since.append((call.numbers[1], None))

    def _fsync(self, call: Call) -> None:
        if handle := self._file(call):
            handle.what.sync()

    _fdatasync = _fsync

    def _rename(self, call: Call) -> None:
        old, new = map(self._place, call.texts)
        if old is None or new is None:
            return
        assert old[0] is new[0], "between folders nothing is moved here"
        old[0].since.append(((old[1], None), (new[1], old[0].now[old[1]])))

    _renameat = _renameat2 = _rename

    def _unlink(self, call: Call) -> None:
        place = self._place(call.texts[0])
        if place:
            place[0].since.append(((place[1], None),))

    _unlinkat = _rmdir = _unlink

    def _mkdir(self, call: Call) -> None:
        place = self._place(call.texts[0])
        if place:
            place[0].since.append(((place[1], Folder()),))

    _mkdirat = _mkdir

    def _unknown(self, call: Call) -> None:
        if self._file(call):
            raise ValueError(f"{call.name} is not known here")

    _pwritev = _pwritev2 = _fallocate = _copy_file_range = _sendfile = _link = _linkat = _creat = (
        _unknown
    )


def _read(place: pathlib.Path) -> Folder:
    return Folder(
        {
            one.name: _read(one) if one.is_dir() else File(one.read_bytes())
            for one in place.iterdir()
        }
    )


def _write(folder: Folder, place: pathlib.Path, chance: random.Random | None) -> None:
    place.mkdir(parents=True, exist_ok=True)
    for name, what in folder.after_cut(chance).items():
        if isinstance(what, Folder):
            _write(what, place / name, chance)
        elif not name.endswith(FORGOTTEN):
            (place / name).write_bytes(what.after_cut(chance))
