"""A number says whether a standard, its publisher, somebody who quotes it, or one person's report stands behind it."""

from __future__ import annotations

from planner.catalogue.assumptions import listed
from planner.record.choices import CITED, NumberOrigin


def test_no_catalogue_number_is_only_called_published():
    assert not [one.key for one in listed().values() if one.origin == NumberOrigin.PUBLISHED]


def test_the_origin_is_what_the_source_says():
    found = {one.key: one for one in listed().values() if one.origin in CITED}
    assert len(found) >= 20
    for key, one in found.items():
        quoted = any(words in one.source for words in ("as quoted", "from memory"))
        report = any(words in one.source for words in ("thread", "helgeklein"))
        if report:
            assert one.origin == NumberOrigin.REPORT, key
        elif quoted:
            assert one.origin == NumberOrigin.QUOTED, key
        elif one.source.startswith("Microsoft"):
            assert one.origin == NumberOrigin.PUBLISHER, key
        else:
            assert one.origin == NumberOrigin.STANDARD, key
    assert len({one.origin for one in found.values()}) == 4
