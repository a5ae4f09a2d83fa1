"""What a start waits for, in modules: seconds depend on the computer, and `tests/bench/start.py` prints them."""

from __future__ import annotations

import subprocess
import sys

import pygame
from musclewood.games.kit.canvas import bare_sky
from musclewood.games.screens.base.scenes import village
from musclewood.games.screens.village.opening import EVENING

LOADED = """
import sys
import musclewood.games.home.one_window, musclewood.games.kit.settings, musclewood.profiles.home.homes
from musclewood.games.__main__ import LATE, left_out
with left_out(*LATE):
    import musclewood.games.screens.village.opening
first = set(sys.modules)
import musclewood.games.commands.launcher, musclewood.games.screens.window
soon = ("numpy", "pydantic", "musclewood.games.workshops", "multiprocessing", "scipy", "bleak")
print([name for name in soon if name in first])
late = ("scipy", "bleak", "matplotlib", "asyncio", "musclewood.games.screens.session.session",
        "musclewood.games.engine.rep_events", "musclewood.signal.stream.chain", "musclewood.signal.sources.ble")
print([name for name in late if name in sys.modules])
from pathlib import Path
musclewood.games.screens.ahead.load_ahead(Path("nowhere")).join()
print([name for name in late[4:] if name not in sys.modules])
"""


def test_neither_the_first_picture_nor_today_waits_for_what_it_does_not_need() -> None:
    """Numpy is for paper, science for the session, Bluetooth for whoever has a sensor, orders and workshops for Today;
    what a session takes is there soon after."""
    run = subprocess.run([sys.executable, "-c", LOADED], capture_output=True, text=True, check=True, timeout=120)
    assert run.stdout.splitlines()[-3:] == ["[]", "[]", "[]"]


def test_the_first_picture_is_the_sky_that_today_begins_under() -> None:
    size = (64, 36)
    scene = village("dusk", ())
    skies = [bare_sky(*place, size) for place in (EVENING, (scene.hour, scene.horizon))]
    assert pygame.image.tobytes(skies[0], "RGB") == pygame.image.tobytes(skies[1], "RGB")
