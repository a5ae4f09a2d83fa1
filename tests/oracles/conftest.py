"""Open recordings for the oracles that are about one."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

FETCHING = Path(__file__).parents[1] / "recordings" / "conftest.py"


@pytest.fixture(scope="session")
def open_recording() -> Callable[[str], Any]:
    """Call with a recording's name; skips where it cannot be fetched."""
    name = "musclewood_test_recordings"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, FETCHING)
        assert spec is not None and spec.loader is not None
        sys.modules[name] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules[name])
    fetching = sys.modules[name]

    def read(wanted: str) -> Any:
        try:
            return fetching.load_recording(wanted)
        except fetching.NoRegistry as reason:
            pytest.skip(str(reason))

    return read
