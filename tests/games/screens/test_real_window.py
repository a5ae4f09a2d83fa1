"""The program's own window under a real window manager: all of it in sight, and full screen until somebody says no."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from musclewood.games.screens.village.opening import MOST_ACROSS, MOST_DOWN, fitting

NEEDED = ("Xvfb", "openbox", "xdotool", "xprop", "xwininfo")
MISSING = [name for name in NEEDED if shutil.which(name) is None]
PATIENCE_S = 40.0
SCREENS = [(1024, 600), pytest.param((1366, 768), marks=pytest.mark.full_size)]


class Place(NamedTuple):
    """A window with its frame, in pixels of the screen."""

    left: int
    top: int
    right: int
    bottom: int


class Desktop:
    """A screen of some size with a window manager on it, and the program in it."""

    def __init__(self, size: tuple[int, int], home: Path) -> None:
        self.size, self.home = size, home
        self._running: list[subprocess.Popen[bytes]] = []
        read, write = os.pipe()
        screen = ["Xvfb", "-displayfd", str(write), "-screen", "0", f"{size[0]}x{size[1]}x24", "-nolisten", "tcp"]
        self._running.append(subprocess.Popen(screen, pass_fds=[write], stderr=subprocess.DEVNULL))
        os.close(write)
        with os.fdopen(read) as told:
            number = told.readline().strip()
        self.env = {**os.environ, "DISPLAY": f":{number}", "MUSCLEWOOD_HOME": str(home), "SDL_AUDIODRIVER": "dummy"}
        self.env.pop("SDL_VIDEODRIVER", None)
        self.env.pop("WAYLAND_DISPLAY", None)
        self._start(["openbox"])

    def _start(self, command: list[str]) -> subprocess.Popen[bytes]:
        self._running.append(
            subprocess.Popen(command, env=self.env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        )
        return self._running[-1]

    def begin(self) -> None:
        self.program = self._start([sys.executable, "-m", "musclewood.games"])

    def ask(self, *command: str) -> str:
        return subprocess.run(
            command, env=self.env, capture_output=True, text=True, check=False, timeout=PATIENCE_S
        ).stdout

    @property
    def place(self) -> Place | None:
        """Where the window is; None before it is there."""
        told = self.ask("xwininfo", "-name", "Musclewood")
        if "Map State: IsViewable" not in told:
            return None
        value = {line.split(":")[0].strip(): line.split(":")[-1].strip() for line in told.splitlines() if ":" in line}
        left, top = int(value["Absolute upper-left X"]), int(value["Absolute upper-left Y"])
        right, bottom = left + int(value["Width"]), top + int(value["Height"])
        window = told.split("Window id: ")[1].split()[0]
        frame = self.ask("xprop", "-id", window, "_NET_FRAME_EXTENTS").partition("=")[2].replace(",", " ").split()
        before, after, above, below = [int(part) for part in frame] if len(frame) == 4 else [0] * 4
        return Place(left - before, top - above, right + after, bottom + below)

    def until(self, right: Callable[[Place], bool]) -> Place:
        limit_s, seen = time.monotonic() + PATIENCE_S, None
        while time.monotonic() < limit_s:
            seen = self.place
            if seen is not None and right(seen):
                return seen
            time.sleep(0.2)
        raise AssertionError(f"the window is at {seen} on a screen of {self.size}")

    def press(self, key: str) -> None:
        self.ask("xdotool", "key", key)

    def kept(self) -> dict[str, Any]:
        """The settings, as soon as there are any: the window changes first, and its file is written after."""
        limit_s, path = time.monotonic() + PATIENCE_S, self.home / "settings.toml"
        while time.monotonic() < limit_s and not path.exists():
            time.sleep(0.2)
        return tomllib.loads(path.read_text())

    def end(self) -> None:
        for process in reversed(self._running):
            process.terminate()
            process.wait(PATIENCE_S)
        self._running.clear()


@pytest.fixture
def desktop(tmp_path: Path) -> Iterator[Callable[..., Desktop]]:
    opened: list[Desktop] = []

    def build(size: tuple[int, int]) -> Desktop:
        opened.append(Desktop(size, tmp_path / "home"))
        return opened[-1]

    yield build
    for one in opened:
        one.end()


@pytest.mark.skipif(bool(MISSING), reason=f"not installed: {', '.join(MISSING)}")
@pytest.mark.parametrize("size", SCREENS)
def test_full_screen_first_and_a_window_in_sight_on_a_key(
    desktop: Callable[..., Desktop], size: tuple[int, int], full: bool
) -> None:
    if size != (1024, 600) and not full:
        pytest.skip("the smallest screen is enough; others under MUSCLEWOOD_FULL=1")
    here = desktop(size)
    here.begin()
    assert here.until(lambda place: place.right - place.left >= size[0]) == (0, 0, *size)
    time.sleep(2.0)  # the launcher takes over the window that opened first
    here.press("F11")
    window = here.until(lambda place: place.right - place.left < size[0])
    assert window.left >= 0 and window.top >= 0
    assert window.right <= size[0] and window.bottom <= size[1]
    assert here.kept()["full_screen"] is False
    here.program.terminate()
    here.program.wait(PATIENCE_S)
    here.begin()  # a window from the beginning, as it was left
    again = here.until(lambda place: place.right - place.left < size[0])
    assert again.right <= size[0] and again.bottom <= size[1]


@pytest.mark.parametrize("screen", [(1024, 600), (1366, 768), (911, 512), (1280, 720), (2560, 1440), (3840, 2160)])
def test_a_window_leaves_room_for_its_frame_and_keeps_its_shape(screen: tuple[int, int]) -> None:
    """Also where everything is shown at 150 %: there the screen has fewer units, such as 911 x 512."""
    width, height = fitting((1280, 720), screen)
    assert width <= MOST_ACROSS * screen[0] and height <= MOST_DOWN * screen[1]
    assert width / height == pytest.approx(16 / 9, rel=0.01)
    assert (width, height) == (1280, 720) or screen[1] <= 720 / MOST_DOWN or screen[0] <= 1280 / MOST_ACROSS


def test_without_a_screen_nothing_is_known_to_be_too_large() -> None:
    assert fitting((640, 360), None) == (640, 360)
