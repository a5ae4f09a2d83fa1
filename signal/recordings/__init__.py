"""Recordings as files: read, written, examined."""
