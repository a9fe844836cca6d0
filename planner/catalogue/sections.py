"""Numbers and titles of the sections that are worked out, from the catalogue: said once for page, book and drawing."""

from __future__ import annotations

import functools
from dataclasses import dataclass

from planner.catalogue import files


@dataclass(frozen=True, slots=True)
class Section:
    """A section that holds no records. ``key`` names it in code and catalogue."""

    key: str
    number: str
    title: str

    @property
    def at(self) -> str:
        """Its name within the page that shows it."""
        return f"s-{self.key}"


@functools.cache
def listed() -> dict[str, Section]:
    """All of them in the book's order, by key. Raises CatalogueError when one is not whole."""
    found = {}
    for key, values in files.load("sections").items():
        try:
            found[key] = Section(key=key, **values)
        except TypeError as error:
            raise files.CatalogueError(f"sections: {key}: {error}") from error
    return found


def section(key: str) -> Section:
    """One of them. Raises KeyError for a key that the catalogue does not have."""
    return listed()[key]
