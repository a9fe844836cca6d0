"""The chapters of a site, in order."""

from planner.record.chapters import (
    brief,
    desktops,
    directory,
    hosts,
    images,
    networks,
    rest,
    service,
)
from planner.record.chapters.base import (
    Chapter,
    Field,
    Section,
    show,
    show_date,
    show_value,
    with_unit,
)

CHAPTERS: tuple[Chapter, ...] = (
    brief.CHAPTER,
    networks.CHAPTER,
    hosts.CHAPTER,
    directory.CHAPTER,
    service.CHAPTER,
    images.CHAPTER,
    desktops.CHAPTER,
    rest.CAPACITY,
    rest.ADDRESSES,
    rest.STAGES,
    rest.PAPERS,
)
BY_SLUG = {chapter.slug: chapter for chapter in CHAPTERS}
BY_NUMBER = {chapter.number: chapter for chapter in CHAPTERS}
SECTIONS: tuple[Section, ...] = tuple(
    section for chapter in CHAPTERS for section in chapter.sections
)
BY_SECTION = {section.slug: section for section in SECTIONS}


def chapter_of(section: Section) -> Chapter:
    return next(chapter for chapter in CHAPTERS if section in chapter.sections)


def sections_of(kind: str) -> list[Section]:
    """The sections that show records of a kind; a single record may stand in several."""
    return [section for section in SECTIONS if section.kind == kind]


def fields_of(kind: str) -> dict[str, Field]:
    """A record kind's fields by name, over all its sections."""
    return {field.name: field for section in sections_of(kind) for field in section.fields}


__all__ = [
    "BY_NUMBER",
    "BY_SECTION",
    "BY_SLUG",
    "CHAPTERS",
    "SECTIONS",
    "Chapter",
    "Field",
    "Section",
    "chapter_of",
    "fields_of",
    "sections_of",
    "show",
    "show_date",
    "show_value",
    "with_unit",
]
