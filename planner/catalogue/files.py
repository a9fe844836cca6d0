"""The catalogue: data that the house may read and add to, in ``fixtures/catalogue``."""

from __future__ import annotations

import functools
import pathlib
import tomllib
from typing import Any

FOLDER = pathlib.Path(__file__).resolve().parents[2] / "fixtures" / "catalogue"


class CatalogueError(Exception):
    """The catalogue contradicts itself or the code; the message names the file and the entry."""


@functools.cache
def load(name: str) -> dict[str, dict[str, Any]]:
    """The entries of ``name.toml``, or of every TOML file in the folder ``name``, by key.

    Raises :class:`CatalogueError` when a file cannot be read or a key stands twice.
    """
    single = FOLDER / f"{name}.toml"
    entries: dict[str, dict[str, Any]] = {}
    for path in [single] if single.exists() else sorted((FOLDER / name).glob("*.toml")):
        try:
            found = tomllib.loads(path.read_text(encoding="utf-8"))
        except tomllib.TOMLDecodeError as error:
            raise CatalogueError(f"{path.name}: {error}") from error
        for key, entry in found.items():
            if key in entries:
                raise CatalogueError(f"{path.name}: “{key}” stands twice in {name}")
            entries[key] = entry
    return entries
