"""The parts of the script that a technician runs; :mod:`planner.papers.probe.writing` joins them into one file.

They keep to Python 3.8 and its standard library, import each other by their whole names at the top, and
have no top-level name twice between them: joined, they share one namespace.
"""
