"""What one frame of each workshop costs, rules and drawing, and how soon the launcher shows its first one.

    python tests/bench/frames.py [--exercise-s 60] [--only NAME ...] [--no-launcher]

Frames: milliseconds of CPU time of the drawing thread for each size, on one core, without a screen, and the aims: 10 ms
for 99 of 100 frames at 1280x720, 16 ms at 1920x1080 (a frame of 60 Hz lasts 16.7 ms). `opening` is what the picture
takes to be made once its art is baked, `first` the first frame; both may happen while another screen is still up.

Launcher: seconds from the start of the program to its first frame, beside what importing pygame, numpy and scipy.signal
takes by itself, each in processes of their own and in turn; the aim is at most 1.3 times as long.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from datetime import date

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")

import numpy as np
import pygame
from musclewood.games.engine.rep_events import RepView
from musclewood.games.engine.reps import Reading, RepEngine
from musclewood.games.gallery.evenings import EXERCISES, three_weeks
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops import PictureSetup, workshops

FRAME_S, TICK_S = 1 / 60, 1 / 240
AIMS_MS = {(1280, 720): 10.0, (1920, 1080): 16.0}
LAUNCHER_AIM = 1.3
TURNS = 5

IMPORTS = "import pygame, numpy, scipy.signal"
# The program itself, until its window shows something for the n-th time. `has_display` is asked before pygame is
# loaded.
LAUNCHER = """
import os, sys
import musclewood.games.kit.display as display
display.has_display = lambda: True
import musclewood.games.__main__ as program
program.has_display = display.has_display
import pygame
shown, left = pygame.display.flip, int(sys.argv[1])
def flip():
    global left
    shown()
    left -= 1
    if left == 0:
        os._exit(0)
pygame.display.flip = flip
sys.exit(program.main([]))
"""


def efforts(view: RepView, time_s: float, channels: int) -> tuple[float, ...]:
    """A patient who mostly does what is asked, and sometimes far too much."""
    if view.phase not in ("ready", "effort") or (view.kind == "quick" and view.held_s > view.hold_s):
        return (0.0,) * channels
    target = view.target if view.pattern_target is None else view.pattern_target
    level = 0.2 * target if view.kind == "relax" else target + 0.04 * np.sin(1.7 * time_s)
    level += 0.22 if time_s % 23 < 1.5 else 0.0
    other = (0.02 + 0.2 * (time_s % 31 < 2)) if view.kind == "selective" else level + 0.06 * np.sin(0.9 * time_s)
    return (level, other)[:channels]


def measure(name: str, size: tuple[int, int], exercise_s: float) -> tuple[float, float, np.ndarray]:
    """Milliseconds of making the picture, of the first frame, and of each one after it."""
    canvas, workshop = Canvas(pygame.display.set_mode(size)), workshops()[name]
    exercise = replace(EXERCISES[name], sets=3, reps=6, rest_s=3.0, set_rest_s=6.0, tolerance_pct_mvc=8.0)
    rules = workshop.rules(exercise, 3, three_weeks(name), date(2026, 11, 25))
    engine, levels = RepEngine(exercise, TICK_S), np.zeros(len(exercise.channels))
    box = PaperBox(canvas.scale)
    box.bake_behind(workshop.art).join()
    begun = time.thread_time()
    picture = workshop.picture()(PictureSetup(box))
    opening_ms, spent_ms = (time.thread_time() - begun) * 1000, []
    for frame in range(round(exercise_s / FRAME_S)):
        time_s, events = frame * FRAME_S, []
        for _ in range(round(FRAME_S / TICK_S)):
            levels += (np.asarray(efforts(engine.view, time_s, levels.size)) - levels) * TICK_S / 0.15
            events += engine.step(Reading(tuple(levels.tolist()), tuple((levels > 0.06).tolist())))
        begun = time.thread_time()
        rules.step(FRAME_S, engine.view, events)
        picture.draw(canvas, rules, engine.view, time_s)
        spent_ms.append((time.thread_time() - begun) * 1000)
        time.sleep(0.001)  # lets threads that paint have their turn, as waiting for the screen would
    return opening_ms, spent_ms[0], np.asarray(spent_ms[1:])


def took_s(code: str, *arguments: str) -> float:
    """Seconds that a Python process of its own takes."""
    with tempfile.TemporaryDirectory() as home:
        environment = {**os.environ, "MUSCLEWOOD_HOME": home, "SDL_AUDIODRIVER": "dummy"}
        begun = time.perf_counter()
        subprocess.run([sys.executable, "-c", code, *arguments], env=environment, check=True, stdout=subprocess.DEVNULL)
        return time.perf_counter() - begun


def launcher() -> None:
    """Take all in turn, so that whatever else the machine does burdens them alike; the best of each is compared."""
    runs = [(took_s(IMPORTS), took_s(LAUNCHER, "1"), took_s(LAUNCHER, "2")) for _ in range(TURNS + 1)][1:]
    imports, first, today = (min(times) for times in zip(*runs, strict=True))
    print(
        f"\nlauncher: imports alone {imports:.2f} s, first frame {first:.2f} s ({first / imports:.2f} times;", end=" "
    )
    print(f"aim {LAUNCHER_AIM}), first frame of Today {today:.2f} s ({today / imports:.2f} times)")


def main() -> None:
    parser = argparse.ArgumentParser(description="CPU time of every workshop's frames, and of the launcher's first.")
    parser.add_argument("--exercise-s", type=float, default=60.0)
    parser.add_argument("--only", nargs="*", choices=tuple(workshops()), default=tuple(workshops()))
    parser.add_argument("--no-launcher", action="store_true")
    wanted = parser.parse_args()
    pygame.display.init()
    print("workshop       size       frames    mean     p50     p99     max   first opening   aim(p99)   [ms]")
    for name in wanted.only:
        for size, aim_ms in AIMS_MS.items():
            opening_ms, first_ms, spent = measure(name, size, wanted.exercise_s)
            p50, p99 = np.percentile(spent, [50, 99])
            shown = f"{spent.mean():7.2f} {p50:7.2f} {p99:7.2f} {spent.max():7.2f} {first_ms:7.0f} {opening_ms:7.0f}"
            print(f"{name:14s} {size[0]}x{size[1]:<6} {spent.size:6d} {shown}     {aim_ms:5.1f}", flush=True)
    if not wanted.no_launcher:
        launcher()


if __name__ == "__main__":
    main()
