"""How long the desk takes to open on 200 patients: from the first call to the first picture with the list in it.

Run with `python tests/bench/desk_open.py [patients]`. The target is one second, with summaries kept beside the
hand-overs as every collecting leaves them; the first line is the worst case, when all of them have to be made anew.
"""

from __future__ import annotations

import os
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
os.environ.setdefault("SDL_AUDIODRIVER", "dummy")

from invented_years import write_many
from musclewood.games.desk.app import DeskApp
from musclewood.profiles.clinic.clinic import Clinic

NOON = datetime(2026, 11, 25, 12, 0, tzinfo=UTC)


def opened(root: Path) -> tuple[float, int]:
    """Seconds until the list is on the screen, and how many are in it."""
    began = time.perf_counter()
    app = DeskApp(Clinic(root), clock=lambda: NOON)
    while app.office.stale:
        app.step([], 1 / 60)
        app.draw()
    app.draw()
    seconds = time.perf_counter() - began
    count = len(app.office.patients())
    app.close()
    return seconds, count


def main() -> None:
    size = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    with tempfile.TemporaryDirectory() as folder:
        root = Path(folder) / "desk"
        write_many(root / "handovers", size)
        for what in ("all summaries made anew", "summaries kept", "summaries kept, once more"):
            seconds, count = opened(root)
            print(f"{count} patients with a year each, {what}: {seconds:.2f} s")


if __name__ == "__main__":
    main()
