"""Forms: a record's form follows from its fields in planner.record.chapters."""

from planner.record.chapters import Section
from planner.record.facts import SiteFacts
from sites.forms.built import BuiltForm
from sites.forms.records import RecordForm

FORMS: dict[str, type[RecordForm]] = {
    "built": BuiltForm
}  # kinds whose form asks more than field by field


def record_form(section: Section, facts: SiteFacts, record=None, data=None) -> RecordForm:
    """The form of a record, or of a new one of the section's kind."""
    return FORMS.get(section.kind, RecordForm)(data, section=section, facts=facts, record=record)


__all__ = ["record_form"]
