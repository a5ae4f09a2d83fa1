"""How commands print: one line at a time, out of the program before the next thing happens."""

from __future__ import annotations


def show(line: str) -> None:
    """Print a line and let it go at once, so that whoever reads it knows all before it is done."""
    print(line, flush=True)
