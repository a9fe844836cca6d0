"""Numbers and titles of the sections that hold no records of their own: what is computed, carried out, printed.

What the screen shows too is named in :mod:`planner.catalogue.sections`; the other sections are numbered in
:mod:`planner.record.chapters`. What the book alone has takes numbers the screen does not use, or none.
"""

from __future__ import annotations

from planner.catalogue.sections import section


def _of(key: str) -> tuple[str, str, str]:
    """A section of the catalogue as a heading: number, title, and no anchor of its own."""
    named = section(key)
    return named.number, named.title, ""


SITE_DRAWING = _of("drawing")
CARRIES = _of("carries")
MORE = _of("more")
SEATS = _of("seats")
MORNING = _of("morning")
DISKS = _of("disks")
LEASES = _of("leases")
LINES = _of("lines")
AGAIN = _of("recovery")
LICENCES = _of("licences")
FACILITY = _of("facility")
ASSUMPTIONS = _of("assumptions")
ADDRESS_SHEET = _of("addresses")
PORT_SHEET = _of("ports")
NAMES = _of("names")  # 9.3 are records: own flows; 9.4 is on screen: files for the network's owner
DAY = ("", "The on-site day", "on-site-day")
STAGE = "10.{}"  # 10.1 to 10.8, one a stage
REVISIONS = ("11.1", "Revisions", "")
PAPERS = ("11.2", "Papers printed", "")
CHANGED = ("11.4", "What changed", "")  # 11.3 is a section of records: built values
AS_BUILT = ("11.5", "As it was built", "")
FINDINGS = ("11.6", "Findings, open and accepted", "")
ACCEPTANCE = ("11.7", "Acceptance tests", "")
SIGN_OFF = ("11.8", "Sign-off", "")
SOURCES = ("A.1", "Sources", "appendix-sources")
