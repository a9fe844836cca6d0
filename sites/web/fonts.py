"""Serves the two typefaces straight from their packages: nothing third-party is copied in."""

from __future__ import annotations

import pathlib

import font_source_sans_pro
import font_source_serif_pro
from django.contrib.staticfiles.finders import BaseFinder
from django.core.files.storage import FileSystemStorage

FONTS = {
    "sans": (font_source_sans_pro, "SourceSansPro", ("Regular", "It", "Semibold", "Bold")),
    "serif": (font_source_serif_pro, "SourceSerifPro", ("Regular", "It", "Semibold", "Bold")),
}


def _files():
    for package, family, cuts in FONTS.values():
        folder = pathlib.Path(package.__file__).parent / "files"
        for cut in cuts:
            yield f"fonts/{family}-{cut}.ttf", folder, f"{family}-{cut}.ttf"


class FontFinder(BaseFinder):
    """Finds ``fonts/SourceSansPro-Regular.ttf`` and its kin in the font packages."""

    def find(self, path: str, find_all: bool = False, **kwargs):
        found = [str(folder / name) for served, folder, name in _files() if served == path]
        if find_all:
            return found
        if found:
            return found[0]
        return []

    def list(self, ignore_patterns):
        for _, folder, name in _files():
            storage = FileSystemStorage(location=str(folder))
            storage.prefix = "fonts"
            yield name, storage

    def check(self, **kwargs):
        return []
