"""What every test may use."""

from __future__ import annotations

import os
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


@pytest.fixture(autouse=True)
def own_home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Keep every test away from the real patient's files."""
    home = tmp_path / "home"
    monkeypatch.setenv("MUSCLEWOOD_HOME", str(home))
    return home
