"""The window: other shapes and sizes, full screen, no display, and frames that are quick enough."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pygame
import pytest
from musclewood.games.gallery.gallery import states
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.screens.base.page import Surroundings
from musclewood.games.screens.base.scenery import Backdrops
from musclewood.games.screens.base.scenes import POOL


def test_a_window_of_another_size_is_drawn_anew(launcher: Callable[..., Any]) -> None:
    app = launcher().app
    app.draw()
    pygame.display.set_mode((1000, 800), pygame.RESIZABLE)
    app.step([pygame.event.Event(pygame.VIDEORESIZE, size=(1000, 800), w=1000, h=800)], 0.01)
    app.draw()  # before the scenery has followed
    app.step([], 0.5)
    assert app.canvas.size == (1000, 562)
    assert app.around.backdrops.size == (1000, 562)
    app.draw()


def test_full_screen_and_back(launcher: Callable[..., Any]) -> None:
    app = launcher().app
    app.answer(Intent(Act.FULL_SCREEN))
    app.draw()
    app.answer(Intent(Act.FULL_SCREEN))
    assert app.screen.get_size() == (640, 360)
    app.draw()


def test_the_first_frame_does_not_wait_for_the_scenery(launcher: Callable[..., Any]) -> None:
    app = launcher().app
    app.draw()
    pixels = pygame.surfarray.array3d(app.canvas.surface).astype(float)
    assert pixels.std() > 12
    assert app.top.choices()


def test_scenery_comes_from_its_thread() -> None:
    before = threading.active_count()
    backdrops = Backdrops((320, 180))
    assert backdrops.ask(POOL) is None
    assert threading.active_count() == before, "a first picture waits for nothing"
    backdrops.begin()
    limit = time.monotonic() + 20
    while backdrops.ask(POOL) is None and time.monotonic() < limit:
        time.sleep(0.02)
    picture = backdrops.ask(POOL)
    backdrops.close()
    assert picture is not None and picture.get_size() == (320, 180)


def test_leaving_by_the_board(launcher: Callable[..., Any]) -> None:
    app = launcher().app
    app.draw()
    app.answer(Intent(Act.BACK))  # from the village: to the board that says so, not out at once
    assert app.top.focus == "leave"
    assert not app.leaving
    app.answer(Intent(Act.CHOOSE))
    assert app.leaving


def test_without_display_or_loudspeaker(tmp_path: Path) -> None:
    """Without sound it starts, draws and ends; where the display cannot be opened, one sentence says so."""
    code = (
        "from pathlib import Path\n"
        "from musclewood.games.screens.app import App\n"
        "from musclewood.games.screens.base.day import nothing_ordered\n"
        "from musclewood.games.screens.village.today import TodayPage\n"
        f"app = App(lambda app: TodayPage(app.around, nothing_ordered(app.keep)), Path({str(tmp_path / 's.toml')!r}))\n"
        "app.step([], 0.02)\napp.draw()\napp.close()\nprint('drawn')\n"
    )

    def started(driver: str) -> subprocess.CompletedProcess[str]:
        silent = {"SDL_VIDEODRIVER": driver, "DISPLAY": ":987", "SDL_AUDIODRIVER": "none-such", "PATH": "/usr/bin:/bin"}
        return subprocess.run(
            [sys.executable, "-c", code], check=False, env=silent, capture_output=True, text=True, timeout=60
        )

    done = started("dummy")
    assert done.returncode == 0 and done.stdout.strip().endswith("drawn"), done.stderr
    done = started("x11")
    assert done.returncode != 0 and "no window can be opened on this display" in done.stderr


@pytest.mark.parametrize("name", ["today", "comfort", "calibration-trial", "wrap-up", "sensor-lost", "pads"])
def test_frames_are_quick(name: str, around: Callable[..., Surroundings], canvas: Callable[..., Canvas]) -> None:
    """At most 10 ms of this thread's own time at 1280 x 720; the median, so that a busy machine does not fail it."""
    pygame.display.set_mode((64, 64))
    page, target = states()[name](around()), canvas(1280, 720)
    for _ in range(8):
        page.update(1 / 60)
        page.draw(target)
    spent = []
    for _ in range(24):
        began = time.thread_time()
        page.update(1 / 60)
        page.draw(target)
        spent.append(1000 * (time.thread_time() - began))
    assert np.median(spent) < 10.0
