"""What Today did not wait for: the rest of the program is loaded while somebody looks at it."""

from __future__ import annotations

from importlib import import_module
from pathlib import Path
from threading import Thread

# In the order in which they may be asked for; each brings along what it needs.
NEXT = (
    "village.letters",
    "village.cautions",
    "setup.source",
    "session.session",
    "village.settings",
    "base.shelf",
)


def load_ahead(recordings: Path) -> Thread:
    """Load the pages behind Today in a thread, then mend the recordings that an earlier crash cut short."""
    thread = Thread(target=_load, args=(recordings,), name="ahead", daemon=True)
    thread.start()
    return thread


def _load(recordings: Path) -> None:
    for page in NEXT:
        import_module(f"musclewood.games.screens.{page}")
    from musclewood.signal.recordings.recording_file import mend_all

    mend_all(recordings)
