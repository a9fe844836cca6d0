"""The build book: the whole site record and its plan as a PDF to work from, to sign and to keep."""

from planner.papers.book.build import build_book
from planner.papers.book.edition import Issue
from planner.papers.book.selection import PARTS

__all__ = ["PARTS", "Issue", "build_book"]
