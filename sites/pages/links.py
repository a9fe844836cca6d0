"""Where in the record something is written: chapter, section and anchor of a field, for links."""

from __future__ import annotations

from dataclasses import dataclass

from planner.record import chapters
from planner.record.chapters import Section
from planner.record.facts import Ref


@dataclass(frozen=True, slots=True)
class Place:
    """``slug`` is the chapter's word in addresses, ``number`` the section's, ``anchor`` where on the page."""

    slug: str
    number: str
    anchor: str


def of_section(section: Section) -> Place:
    return Place(chapters.chapter_of(section).slug, section.number, f"s-{section.slug}")


def of_ref(ref: Ref | None) -> Place | None:
    """The place of a record or of one of its fields; ``None`` where no section shows such records."""
    if ref:
        sections = chapters.sections_of(ref.kind)
    else:
        sections = []
    if ref is None or not sections:
        return None
    section = next(
        (one for one in sections if any(field.name == ref.field for field in one.fields)),
        sections[0],
    )
    place = of_section(section)
    if section.single:
        return place
    return Place(place.slug, place.number, ref.anchor)
