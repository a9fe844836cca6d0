"""What becomes of a row that came in as a table."""

from __future__ import annotations

from planner.record.choices import Choice


class RowOutcome(Choice):
    ADDED = "added"
    CHANGED = "changed"
    SAME = "same"
    UNCHANGED = "unchanged"
    REFUSED = "refused"
    CONFLICT = "conflict"  # a person must choose
