"""Many tables made in one go."""

from __future__ import annotations

from django.db.migrations.operations import CreateModel
from django.db.migrations.operations.base import Operation


class CreateTogether(Operation):
    """Creates tables as one step. Each model may point at any other of them, in any order.

    Every single ``CreateModel`` has Django build all models again that a person's row is tied to, which here are nearly
    all: made one by one, 72 tables took half a minute, made together they take a second.
    """

    def __init__(self, creations: list[CreateModel]):
        self.creations = creations

    def deconstruct(self):
        return self.__class__.__name__, [self.creations], {}

    def state_forwards(self, app_label, state):
        state.__dict__.pop("apps", None)  # built again when it is next asked for, once for all
        for creation in self.creations:
            creation.state_forwards(app_label, state)

    def database_forwards(self, app_label, schema_editor, from_state, to_state):
        for creation in self.creations:
            creation.database_forwards(app_label, schema_editor, from_state, to_state)

    def database_backwards(self, app_label, schema_editor, from_state, to_state):
        for creation in reversed(self.creations):
            creation.database_backwards(app_label, schema_editor, from_state, to_state)

    def describe(self):
        return f"Create {len(self.creations)} tables"
