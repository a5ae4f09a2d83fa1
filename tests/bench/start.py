"""How soon the window shows something, and how soon Today: in seconds, and as multiples of importing pygame and numpy
alone.

    python tests/bench/start.py [--times 5] [--beside DIR/.venv/bin/python]

Aims: the first picture after 0.25 s, Today after 0.7 s, on a computer where the two imports alone take 0.16 s (both
values from two cores of 2026 that were idle): 1.6 and 4.4 times the imports. Seconds of the clock from the start of the
process; of the processor, of the whole process. The least of several runs, the imports and each version in turn, in an
empty home, under Xvfb and a window manager if there is no display. On a computer that is busy the processor's seconds
say more than the clock's.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time

from laptop import display

AIMS_S = {"first picture": 0.25, "Today": 0.7}
IMPORTS = """
import json, os, sys, time
import pygame, numpy
used = os.times()
json.dump({"imports": [time.time() - float(sys.argv[1]), used.user + used.system]}, sys.stdout)
"""
# Runs in the version that is measured: tells when pictures were shown, and leaves after the first of Today.
PROGRAM = """
import json, os, sys, time
begun = float(sys.argv[1])
told = {}
def tell(name):
    used = os.times()
    told.setdefault(name, [time.time() - begun, used.user + used.system])
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


def run(python: str, code: str) -> dict[str, list[float]]:
    """Seconds of clock and processor by what was reached."""
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)  # a program that is started twice finds what was compiled
    with tempfile.TemporaryDirectory() as home:
        environment = {
            **os.environ,
            "MUSCLEWOOD_HOME": home,
            "PYGAME_HIDE_SUPPORT_PROMPT": "1",
            "SDL_AUDIODRIVER": "dummy",
        }
        done = subprocess.run(
            [python, "-c", code, str(time.time())],
            env=environment,
            capture_output=True,
            text=True,
            timeout=120,
            check=True,
        )
    return dict(json.loads(done.stdout[done.stdout.index("{") :]))


def main() -> None:
    parser = argparse.ArgumentParser(description="From the start to the first picture and to Today.")
    parser.add_argument("--times", type=int, default=5, help="runs of each; the least counts")
    parser.add_argument("--beside", metavar="PYTHON", help="the interpreter of another version")
    wanted = parser.parse_args()
    kinds = {"imports": (sys.executable, IMPORTS), "here": (sys.executable, PROGRAM)}
    if wanted.beside:
        kinds["beside"] = (wanted.beside, PROGRAM)
    least: dict[tuple[str, str], list[float]] = {}
    with display():
        for _ in range(wanted.times):
            for kind, (python, code) in kinds.items():
                for what, seconds in run(python, code).items():
                    before = least.get((kind, what), seconds)
                    least[kind, what] = [min(pair) for pair in zip(before, seconds, strict=True)]
    clock_s, used_s = least["imports", "imports"]
    print(f"{'importing pygame and numpy alone':34s} {clock_s:5.2f} s of the clock  {used_s:5.2f} s of the processor")
    for (kind, what), (clock, used) in least.items():
        if kind != "imports":
            multiples = f"{clock / clock_s:4.1f} and {used / used_s:4.1f} times the imports"
            print(
                f"{kind:7s} {what:14s} aim {AIMS_S[what]:.2f} s {clock:5.2f} s of the clock  {used:5.2f} s "
                f"of the processor  {multiples}"
            )


if __name__ == "__main__":
    main()
