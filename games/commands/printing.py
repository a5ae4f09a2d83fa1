"""How commands print: one line at a time, out of the program before the next thing happens."""

from __future__ import annotations

from musclewood.profiles.disk.plain_text import one_line


def show(line: str) -> None:
    """Print a line and let it go at once, so that whoever reads it knows all before it is done.

    Names in it may come from files that somebody else wrote, so nothing in it can move the cursor or begin a line.
    """
    print(one_line(line), flush=True)
