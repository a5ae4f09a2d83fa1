"""Both Bluetooth beds within reach, and the helpers that put a whole session on top of them."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parents[1] / "signal" / "sources_ble" / "beds")]

import bluez_bed
from own_process import BAND, DOSE, GOOD, MAXIMUM, SHORT, WEAK, Begin, Run, begun_runs, recorded


@pytest.fixture(scope="session")
def runs(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Begin]:
    """Starts a run, and ends whatever is left of it."""
    with begun_runs(tmp_path_factory) as begin:
        yield begin


@pytest.fixture
def whole(runs: Begin, written_order: Callable[..., Path], full: bool) -> Run:
    """The run of a whole session, begun by whichever test asks first: it takes its time, and others need not wait."""
    if bluez_bed.missing():
        pytest.skip(bluez_bed.missing())
    squeezes = [MAXIMUM, GOOD, WEAK, GOOD, *([SHORT, GOOD, WEAK, SHORT, GOOD] if full else [])]
    return runs(recorded(written_order(reps=squeezes.count(GOOD), **BAND, **DOSE)), squeezes, name="whole")
