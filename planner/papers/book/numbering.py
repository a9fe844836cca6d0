"""Numbers and titles of the sections that hold no records of their own: what is computed, carried out, printed.

Those that the screen shows too bear the screen's numbers; the other sections are numbered in
:mod:`planner.record.chapters`. What the book alone has takes numbers the screen does not use, or none.
"""

from __future__ import annotations

SITE_DRAWING = ("2.3", "Drawing of the site", "")
CARRIES = ("8.1", "What each host carries", "")
MORE = ("8.2", "Room for more", "")
SEATS = ("8.3", "Seats at once", "")
MORNING = ("8.4", "The morning", "")
DISKS = ("8.5", "Disks", "")
LEASES = ("8.6", "Leases", "")
LINES = ("8.7", "Lines", "")
AGAIN = ("8.8", "Starting again", "")
LICENCES = ("8.9", "Licences, activation, support", "")
FACILITY = ("8.10", "Power, heat and rack", "")
ASSUMPTIONS = ("8.11", "Assumptions", "")
ADDRESS_SHEET = ("9.1", "Address sheet", "")
PORT_SHEET = ("9.2", "Port sheet", "")
NAMES = (
    "9.5",
    "Computer names",
    "",
)  # 9.3 are records: own flows; 9.4 is on screen: files for the network's owner
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
