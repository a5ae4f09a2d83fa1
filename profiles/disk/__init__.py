"""Whole files or none, and one program at a time."""
