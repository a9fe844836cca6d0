"""What a configuration is, and the words at the head of each."""

from __future__ import annotations

import datetime as dt
import io
import re
import zipfile
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from planner.papers.configs.ground import Ground
from planner.papers.configs.problems import Edition, Problem
from planner.papers.configs.words import one_line, wrapped
from planner.plan import Plan

TOLD = 200  # problems that a file's own head lists; the page shows them all
READ_FIRST = (
    "Somebody who knows this network must read the whole file before it is loaded, compare it with what runs now, "
    "and keep a copy of that. It says what the plan says, and nothing that nobody wrote into the plan."
)
FIRST_STAMP, LAST_YEAR = dt.date(1980, 1, 1), 2107  # a ZIP file knows no other days
UNIX = 3  # who made it, so that files may be read by everybody wherever they are unpacked


@dataclass(frozen=True)
class Config:
    """A configuration to hand over: its ``text``, and what could not be said safely.

    Where it is several files, ``files`` has them all by name, and ``text`` is the one to read first.
    """

    text: str
    problems: tuple[Problem, ...] = ()
    files: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of configuration.

    ``pattern`` is its file's name, with {site} and {revision}; ``purpose`` says what it is for, and
    ``replaces`` what it takes the place of. With ``several`` files the download is a ZIP archive.
    ``finder`` finds the problems without writing anything.
    """

    slug: str
    pattern: str
    title: str
    purpose: str
    media_type: str
    maker: Callable[[Plan, Edition], Config]
    finder: Callable[[Ground], Sequence[Problem]]
    several: bool = False

    def file_name(self, plan: Plan, edition: Edition) -> str:
        """The file's name: ``larkfield-mill-dhcp-kea-B.json``."""
        codes = [
            plain
            for code in (plan.facts.customer_code, plan.facts.site.code)
            if (plain := _plain(code))
        ]
        return self.pattern.format(
            site="-".join(codes) or "site", revision=_plain(edition.revision) or "draft"
        )

    def make(self, plan: Plan, edition: Edition) -> Config:
        """The configuration of a plan. Never raises, whatever the plan's facts."""
        return self.maker(plan, edition)

    def lacks(self, ground: Ground) -> Sequence[Problem]:
        """What :meth:`make` tells as ``problems``, for a fraction of its time; one ground serves all kinds."""
        return self.finder(ground)

    def packed(self, config: Config, edition: Edition) -> bytes:
        """A configuration as it is downloaded: UTF-8 text, or an archive of all its files."""
        if self.several:
            return _zipped(config.files, edition.day)
        return config.text.encode()


def _plain(text: str) -> str:
    return re.sub(r"[^A-Za-z0-9-]+", "-", text)[:60].strip("-")


def _zipped(files: Mapping[str, str], day: dt.date) -> bytes:
    """The same archive for the same files: their only time is the edition's day."""
    stamp = max(day, FIRST_STAMP)
    archive = io.BytesIO()
    with zipfile.ZipFile(archive, "w") as made:
        for name, text in files.items():
            info = zipfile.ZipInfo(
                name, (min(stamp.year, LAST_YEAR), stamp.month, stamp.day, 0, 0, 0)
            )
            info.compress_type, info.create_system, info.external_attr = (
                zipfile.ZIP_DEFLATED,
                UNIX,
                0o644 << 16,
            )
            made.writestr(info, text.encode())
    return archive.getvalue()


def imprint(plan: Plan, edition: Edition) -> dict[str, str]:
    """Whose plan a file holds, and in which state."""
    site = plan.facts.site
    return {
        "customer": one_line(plan.facts.customer) or "no customer named",
        "site": " ".join(
            filter(None, (one_line(site.name), f"({one_line(site.code)})" if site.code else ""))
        )
        or "unnamed site",
        "revision": one_line(edition.revision, 12) or "none: the plan as it stood",
        "fingerprint": plan.fingerprint,
        "written": edition.day.isoformat(),
    }


def told(problems: Sequence[Problem]) -> list[str]:
    """The problems as a file's head lists them."""
    lines = [one.text for one in problems[:TOLD]]
    if len(problems) > TOLD:
        return [*lines, f"and {len(problems) - TOLD} more"]
    return lines


def head(
    plan: Plan,
    edition: Edition,
    *,
    title: str,
    replaces: str,
    cautions: Iterable[str],
    problems: Sequence[Problem],
    elsewhere: str = "",
) -> list[str]:
    """The lines every configuration starts with: whose it is, what to know before it is loaded, what it lacks.

    ``elsewhere`` names the file that lists what was left out, where that is another one.
    """
    lines = [title, ""]
    lines += [f"{name.capitalize()}: {value}" for name, value in imprint(plan, edition).items()]
    lines += ["", *wrapped(f"What it replaces: {replaces}"), "", "Before you load it:"]
    for caution in (READ_FIRST, *cautions):
        lines += wrapped(f"- {caution}", "  ")
    if elsewhere:
        return [*lines, "", f"What was left out, and why, stands in {elsewhere}.", ""]
    lines += [
        "",
        "Left out, because it could not be said safely:" if problems else "Nothing was left out.",
    ]
    for line in told(problems):
        lines += wrapped(f"- {line}", "  ")
    return [*lines, ""]
