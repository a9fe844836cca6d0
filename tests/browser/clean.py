"""What axe finds on a page."""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
EVERYTHING = {"type": "tag", "values": TAGS}
# What colours alone decide: the rest of a page is the same in light and dark.
COLOURS = {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}
_AXE = Axe()


def violations(page: Page, scheme: str = "light") -> list[dict]:
    """Everything that is wrong with the page; in the dark scheme, what its colours make wrong."""
    asked = COLOURS if scheme == "dark" else EVERYTHING
    options = {"runOnly": asked, "resultTypes": ["violations"]}  # what is well is not written out
    return _AXE.run(page, options=options).response["violations"]
