"""The static files that pages ask for: what is named, and what those files ask for in turn.

Pages name styles and the module they begin with. What a module imports and which fonts a style uses
is read in the files themselves: for the page, which has its browser fetch everything at once, and
for the device that keeps run sheets (:mod:`sites.web.offline`).
"""

from __future__ import annotations

import functools
import pathlib
import posixpath
import re

from django.conf import settings
from django.contrib.staticfiles import finders
from whitenoise.storage import CompressedManifestStaticFilesStorage

STYLES = (
    "css/tokens.css",
    "css/base.css",
    "css/frame.css",
    "css/parts.css",
    "css/pages.css",
    "css/print.css",
)
RUN_STYLES = ("css/run.css",)

IMPORT = re.compile(r'^import [^";]* from "(?P<target>[^"]+)";\n', re.MULTILINE)
URL = re.compile(r'url\("(?P<target>[^"]+)"\)')


OWN_MODULES = "js/*.js"
IMPORTED = r'(?P<matched>from "(?P<url>\./[^"]+)";)'


class NamedByContent(CompressedManifestStaticFilesStorage):
    """Files bear the names of their content, and modules import each other under these names.

    Django can do so by a setting of its own, but then looks for imports in the scripts of others,
    too, and stumbles over examples in their comments.
    """

    patterns = (
        *CompressedManifestStaticFilesStorage.patterns,
        (OWN_MODULES, ((IMPORTED, 'from "%(url)s";'),)),
    )


def content_of(name: str) -> bytes:
    return pathlib.Path(finders.find(name)).read_bytes()


def _targets(pattern: re.Pattern[str], name: str) -> list[str]:
    """The files that a file asks for, in their order."""
    folder = posixpath.dirname(name)
    text = content_of(name).decode()
    return [
        posixpath.normpath(posixpath.join(folder, found["target"]))
        for found in pattern.finditer(text)
    ]


def with_imports(*entries: str) -> list[str]:
    """Modules and all that they import: each once, and after those that it imports itself."""
    modules: list[str] = []

    def take(name: str) -> None:
        if name in modules:
            return
        for target in _targets(IMPORT, name):
            take(target)
        modules.append(name)

    for entry in entries:
        take(entry)
    return modules


_with_imports_once = functools.cache(with_imports)


def modules_of_a_page(entry: str) -> list[str]:
    """As :func:`with_imports`; read once, but while the files may change under the running house."""
    if settings.DEBUG:
        return with_imports(entry)
    return _with_imports_once(entry)


def with_fonts(*styles: str) -> list[str]:
    """Styles and the fonts that they use."""
    fonts = [font for style in styles for font in _targets(URL, style)]
    return [*styles, *fonts]


def joined(entry: str) -> str:
    """One program of a module and all that it imports, for where a browser takes no modules.

    Names are as they stand, so no two of these modules may give the same name to different things.
    """
    parts = []
    for name in with_imports(entry):
        text = IMPORT.sub("", content_of(name).decode())
        parts.append(re.sub(r"^export ", "", text, flags=re.MULTILINE))
    return '(() => {\n"use strict";\n' + "\n".join(parts) + "})();\n"
