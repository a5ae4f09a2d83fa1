"""What one frame of the kiln costs: rules and drawing, on one core, without a screen.

    python tests/bench/frames.py [--exercise-s 90]

Prints milliseconds of CPU time of the drawing thread per frame for each size, and the aims: 10 ms for 99 of 100 frames at
1280x720, 16 ms at 1920x1080 (a frame of 60 Hz lasts 16.7 ms). The first frame, which opens the picture, is given apart.
"""

from __future__ import annotations

import argparse
import os
import time
from datetime import date

os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")

import numpy as np
import pygame
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.paper import PaperBox
from musclewood.games.reps import Reading, RepEngine
from musclewood.games.shelf import Product
from musclewood.games.workshops import Stage, workshops
from musclewood.profiles.dose import PlannedExercise

FRAME_S, TICK_S = 1 / 60, 1 / 240
AIMS_MS = {(1280, 720): 10.0, (1920, 1080): 16.0}
EXERCISE = PlannedExercise(
    "knee", "hold", "Press the knee down", ("kiln",), (0,), 3, 6, 3.0, 3.0, 6.0, 40.0, 8.0, 70.0, 6.0
)


def earlier_pots(count: int) -> list[Product]:
    rise = np.clip(np.linspace(0, 8, 48), 0, 1)
    figures = {"steadiness": 0.92, "target_pct_mvc": 40.0}
    return [
        Product("kiln", n, date(2026, 11, 1), {**figures, "place": float(n)}, tuple(40 * rise)) for n in range(count)
    ]


def effort_of(phase: str, time_s: float) -> float:
    """A patient who mostly holds the band and sometimes presses too hard."""
    if phase not in ("ready", "effort"):
        return 0.0
    return 0.4 + 0.06 * np.sin(1.7 * time_s) + (0.2 if time_s % 23 < 1.5 else 0.0)


def measure(size: tuple[int, int], exercise_s: float) -> tuple[float, np.ndarray]:
    """Milliseconds of the first frame, and of each one after it."""
    surface = pygame.display.set_mode(size)
    canvas = Canvas(surface)
    workshop = workshops()["kiln"]
    rules = workshop.rules(EXERCISE, 3, earlier_pots(40), date(2026, 11, 25))
    engine, activation = RepEngine(EXERCISE, TICK_S), 0.0
    begun = time.thread_time()
    picture = workshop.picture()(Stage(PaperBox(canvas.scale)))
    spent_ms = []
    for frame in range(round(exercise_s / FRAME_S)):
        time_s, events = frame * FRAME_S, []
        for _ in range(round(FRAME_S / TICK_S)):
            activation += (effort_of(engine.view.phase, time_s) - activation) * TICK_S / 0.15
            events += engine.step(Reading((activation,), (activation > 0.06,)))
        begun = time.thread_time() if frame else begun
        rules.step(FRAME_S, engine.view, events)
        picture.draw(canvas, rules, engine.view, time_s)
        spent_ms.append((time.thread_time() - begun) * 1000)
        time.sleep(0.001)  # lets the threads that paint pots have their turn, as waiting for the screen would
    return spent_ms[0], np.asarray(spent_ms[1:])


def main() -> None:
    parser = argparse.ArgumentParser(description="CPU time of the kiln's frames.")
    parser.add_argument("--exercise-s", type=float, default=90.0)
    wanted = parser.parse_args()
    pygame.display.init()
    print("size        frames    mean     p50     p99     max   first   aim(p99)   [ms]")
    for size, aim_ms in AIMS_MS.items():
        first_ms, spent = measure(size, wanted.exercise_s)
        p50, p99 = np.percentile(spent, [50, 99])
        shown = f"{spent.mean():7.2f} {p50:7.2f} {p99:7.2f} {spent.max():7.2f} {first_ms:7.0f}   {aim_ms:5.1f}"
        print(f"{size[0]}x{size[1]:<6} {spent.size:6d} {shown}")


if __name__ == "__main__":
    main()
