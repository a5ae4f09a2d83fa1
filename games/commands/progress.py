"""A bar for work that takes its time: drawn on a terminal, silent where nobody looks."""

from __future__ import annotations

import sys
from collections.abc import Callable

WIDTH = 40


def progress(what: str) -> Callable[[int, int], None]:
    """Gives what is to be called with how many of how many are done."""

    def tell(done: int, of: int) -> None:
        if not sys.stderr.isatty():
            return
        filled = WIDTH * done // max(1, of)
        end = "\n" if done >= of else ""
        print(f"\r{what} [{'#' * filled}{'.' * (WIDTH - filled)}] {done} of {of}", end=end, file=sys.stderr, flush=True)

    return tell
