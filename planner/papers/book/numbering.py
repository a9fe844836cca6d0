"""Numbers and titles of the sections that hold no records of their own: what is computed, carried out, printed.

The other sections are numbered in :mod:`planner.chapters`. A section without a number is the book's alone.
"""

from __future__ import annotations

SITE_DRAWING = ("", "Site drawing", "site-drawing")
CARRIES = ("8.1", "What each host carries", "")
ONE_DOWN = ("8.2", "With one host down", "")
MORE = ("8.3", "Room for more", "")
DISKS = ("8.4", "Disks", "")
LEASES = ("8.5", "DHCP leases", "")
NAMES = ("8.6", "Computer names", "")
ADDRESS_SHEET = ("9.1", "Address sheet", "")
PORT_SHEET = ("9.2", "Port sheet", "")
STAGE = "10.{}"  # 10.1 to 10.8, one a stage
REVISIONS = ("11.1", "Revisions", "")
PAPERS = ("11.2", "Papers printed", "")
FINDINGS = ("11.4", "Findings, open and accepted", "")
SIGN_OFF = ("11.5", "Sign-off", "")
