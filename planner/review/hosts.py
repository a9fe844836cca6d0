"""Findings of this group."""
