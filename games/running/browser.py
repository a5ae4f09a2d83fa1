"""Opens a page in the system's browser."""

from __future__ import annotations

import os
import sys
import webbrowser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

# Where the system's own programs look for libraries; a built program points it at its own.
PATHS = ("LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH")


def show_in_browser(path: Path) -> bool:
    """Whether a browser was found for this file."""
    with _systems_libraries():
        return webbrowser.open(path.resolve().as_uri())


@contextmanager
def _systems_libraries() -> Iterator[None]:
    """Give the browser the libraries that it was built with: a built program keeps what was set before under
    `..._ORIG`."""
    if not getattr(sys, "frozen", False):
        yield
        return
    own = {name: os.environ.pop(name, None) for name in PATHS}
    os.environ.update({name: os.environ[f"{name}_ORIG"] for name in PATHS if f"{name}_ORIG" in os.environ})
    try:
        yield
    finally:
        for name, value in own.items():
            os.environ.pop(name, None)
            if value is not None:
                os.environ[name] = value
