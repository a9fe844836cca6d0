"""The build book: the whole site record and its plan as a PDF to work from, to sign and to keep."""

from planner.papers.book.build import build_book
from planner.papers.book.edition import Issue

__all__ = ["Issue", "build_book"]
