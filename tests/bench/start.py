"""How soon the window shows something, and how soon Today: in seconds, and as multiples of importing pygame and numpy
alone.

    python tests/bench/start.py [--times 5] [--sessions 60] [--beside DIR/.venv/bin/python]

Aims: the first picture after 0.25 s, Today after 0.7 s, on a computer where the two imports alone take 0.16 s (both
values from two cores of 2026 that were idle): 1.6 and 4.4 times the imports. Seconds of the clock from the start of the
process; of the processor, of the whole process. The least of several runs, the imports and each version in turn, under
Xvfb and a window manager if there is no display; in an empty home, and in one of a patient who has played for some
weeks ('later'). On a computer that is busy the processor's seconds say more than the clock's.
"""

from __future__ import annotations

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from journal_year import write_year
from laptop import display
from musclewood.games.kit import settings
from musclewood.games.kit.settings import Settings
from musclewood.profiles.home import exchange
from musclewood.profiles.home.homes import Home
from musclewood.profiles.orders.prescription import dump
from musclewood.profiles.orders.templates import template

AIMS_S = {"first picture": 0.25, "Today": 0.7}
IMPORTS = """
import json, os, sys, time
import pygame, numpy
json.dump({"imports": [time.time() - float(sys.argv[1]), time.process_time()]}, sys.stdout)
"""
# Runs in the version that is measured: tells when pictures were shown, and leaves after the first of Today.
PROGRAM = """
import json, os, sys, time
begun = float(sys.argv[1])
told = {}
def tell(name):
    told.setdefault(name, [time.time() - begun, time.process_time()])
import builtins
real = builtins.__import__
def watched(name, *rest):
    module = real(name, *rest)
    pygame = sys.modules.get("pygame")
    if pygame is not None and hasattr(getattr(pygame, "display", None), "flip"):
        builtins.__import__ = real
        shown = pygame.display.flip
        def flip():
            shown()
            tell("first picture")
            app = sys.modules.get("musclewood.games.screens.app")
            if app is not None and hasattr(app, "App"):
                tell("Today")
                sys.__stdout__.write(json.dumps(told))
                sys.__stdout__.flush()
                os._exit(0)
        pygame.display.flip = flip
    return module
builtins.__import__ = watched
os.environ["SDL_AUDIODRIVER"] = "dummy"
sys.argv = ["musclewood"]
from musclewood.games.__main__ import main
main([])
"""


def home_of_somebody(root: Path, sessions: int) -> None:
    """An order that was let in, and a session on five days of each week until yesterday."""
    home, now = Home(root), datetime.now(UTC)
    home.create()
    started = now - timedelta(days=sessions * 365 // 250 + 1)
    order = template("weak-thigh-after-knee-operation").model_copy(
        update={"patient": "HB-0042", "issued": started.date(), "review": (now + timedelta(days=60)).date()}
    )
    exchange.take(home, dump(order).encode(), today=now.date(), confirm_unsigned=lambda unsigned: True)
    write_year(home.journal_path("HB-0042"), order, sessions, started)
    settings.save(Settings(read_aloud="off"), home.settings_path)


def run(python: str, code: str, home_before: Path) -> dict[str, list[float]]:
    """Seconds of clock and processor by what was reached."""
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # a program that is started twice finds what was compiled
    with tempfile.TemporaryDirectory() as folder:
        home = shutil.copytree(home_before, Path(folder) / "home")
        environment = {
            **os.environ,
            "MUSCLEWOOD_HOME": str(home),
            "PYGAME_HIDE_SUPPORT_PROMPT": "1",
            "SDL_AUDIODRIVER": "dummy",
        }
        done = subprocess.run(
            [python, "-c", code, str(time.time())],
            check=False,
            env=environment,
            capture_output=True,
            text=True,
            timeout=120,
        )
    _, brace, told = done.stdout.partition("{")  # an earlier version may refuse a newer journal
    return dict(json.loads(brace + told)) if brace else {}


def main() -> None:
    parser = argparse.ArgumentParser(description="From the start to the first picture and to Today.")
    parser.add_argument("--times", type=int, default=5, help="runs of each; the least counts")
    parser.add_argument("--sessions", type=int, default=60, help="that lie behind the patient who has played")
    parser.add_argument("--beside", metavar="PYTHON", help="the interpreter of another version")
    wanted = parser.parse_args()
    versions = {"here": sys.executable, **({"beside": wanted.beside} if wanted.beside else {})}
    least: dict[tuple[str, str], list[float]] = {}

    def note(kind: str, reached: dict[str, list[float]]) -> None:
        for what, seconds in reached.items():
            least[kind, what] = [min(pair) for pair in zip(least.get((kind, what), seconds), seconds, strict=True)]

    with display(), tempfile.TemporaryDirectory() as folder:
        empty, later = Path(folder) / "empty", Path(folder) / "later"
        empty.mkdir()
        home_of_somebody(later, wanted.sessions)
        for _ in range(wanted.times):
            note("imports", run(sys.executable, IMPORTS, empty))
            for version, python in versions.items():
                note(version, run(python, PROGRAM, empty))
                note(f"{version}, later", run(python, PROGRAM, later))
    clock_s, used_s = least["imports", "imports"]
    print(f"{'importing pygame and numpy alone':34s} {clock_s:5.2f} s of the clock  {used_s:5.2f} s of the processor")
    for (kind, what), (clock, used) in least.items():
        if kind != "imports":
            multiples = f"{clock / clock_s:4.1f} and {used / used_s:4.1f} times the imports"
            print(
                f"{kind:13s} {what:14s} aim {AIMS_S[what]:.2f} s {clock:5.2f} s of the clock  {used:5.2f} s "
                f"of the processor  {multiples}"
            )


if __name__ == "__main__":
    main()
