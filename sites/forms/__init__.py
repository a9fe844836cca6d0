"""Forms: a record's form follows from its fields in planner.chapters."""

from sites.forms.records import record_form

__all__ = ["record_form"]
