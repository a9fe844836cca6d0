"""A whole site as one JSON document, which another Deskwright can bring in.

::

    document = to_document(facts)
    brought = read_document(write(document), today)      # brought.facts, brought.unknown, brought.left_out
    schema()                                             # what a document of this version looks like

The document follows from planner.record.facts and planner.record.chapters: a new field is in it, in its schema and read
back without a line here. References are the anchors of the records they mean (``network-3``), which are good
within one document. What is not of this site alone stays out: other sites it is joined to.

VERSION rises when a reader of the version before would misread a document; a field that is merely new does
not, because readers pass over what they do not know, and say so.
"""

from planner.exchange.parts import FORMAT, VERSION
from planner.exchange.reading import Brought, read_document
from planner.exchange.schema import schema
from planner.exchange.writing import to_document, write

__all__ = ["FORMAT", "VERSION", "Brought", "read_document", "schema", "to_document", "write"]
