"""What every test may use."""

from __future__ import annotations

import os
from itertools import count
from pathlib import Path

import pytest

# No test needs a screen or a loudspeaker.
os.environ.setdefault("SDL_VIDEODRIVER", "dummy")
os.environ.setdefault("SDL_AUDIODRIVER", "dummy")
os.environ.setdefault("PYGAME_HIDE_SUPPORT_PROMPT", "1")


@pytest.fixture(scope="session")
def full() -> bool:
    """Whether long property and simulation runs go to their full size (MUSCLEWOOD_FULL=1)."""
    return os.environ.get("MUSCLEWOOD_FULL") == "1"


_NUMBERS = count()


@pytest.fixture(autouse=True)
def own_home(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep every test away from the real patient's files. A folder is made only for those that want one."""
    if "tmp_path" in request.fixturenames:
        root: Path = request.getfixturevalue("tmp_path")
    else:
        factory: pytest.TempPathFactory = request.getfixturevalue("tmp_path_factory")
        root = factory.getbasetemp() / f"without-{next(_NUMBERS)}"
    home = root / "home"
    monkeypatch.setenv("MUSCLEWOOD_HOME", str(home))
    return home
