"""A network stream as a source, against a stand-in for the optional library; and with the real one where it is."""

from __future__ import annotations

import importlib.util
import time
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from musclewood.signal.errors import SensorError
from musclewood.signal.sources.lsl import SILENT_S, LslSource


class StandIn:
    """As much of pylsl as the source uses. chunks: (samples, time stamps) in the order in which they are pulled."""

    proc_clocksync, proc_dejitter = 1, 2

    def __init__(
        self, chunks: Sequence[tuple[list[list[float]], list[float]]], units: Sequence[str], rate: float
    ) -> None:
        self.chunks, self.units, self.rate = list(chunks), list(units), rate
        self.asked: tuple[str, str] | None = None
        self.closed = False

    def resolve_byprop(self, prop: str, value: str, timeout: float) -> list[str]:
        self.asked = (prop, value)
        return [] if value == "nobody" else ["stream"]

    def StreamInlet(self, found: str, processing_flags: int) -> StandIn:
        assert processing_flags == 3
        return self

    def info(self) -> StandIn:
        return self

    def nominal_srate(self) -> float:
        return self.rate

    def channel_count(self) -> int:
        return len(self.units)

    def desc(self) -> StandIn:
        return self

    def child(self, name: str) -> Any:
        return self if name == "channels" else _Channel(self.units, 0)

    def pull_chunk(self, timeout: float) -> tuple[list[list[float]], list[float]]:
        return self.chunks.pop(0) if self.chunks else ([], [])

    def close_stream(self) -> None:
        self.closed = True


class _Channel:
    def __init__(self, units: list[str], number: int) -> None:
        self._units, self._number = units, number

    def child_value(self, name: str) -> str:
        return {"label": f"muscle {self._number}", "unit": self._units[self._number]}[name]

    def next_sibling(self) -> _Channel:
        return _Channel(self._units, self._number + 1)


def chunk(first: int, count: int, late_s: float = 0.0) -> tuple[list[list[float]], list[float]]:
    numbers = range(first, first + count)
    return [[float(n), float(-n)] for n in numbers], [100.0 + n / 1000.0 + late_s for n in numbers]


def test_samples_come_in_microvolts_with_labels_and_time() -> None:
    library = StandIn([chunk(0, 32), ([], []), chunk(32, 16), chunk(48, 16)], ["millivolts", "microvolts"], 1000.0)
    source = LslSource(library=library)
    source.start()
    assert (source.rate_hz, source.labels, library.asked) == (1000.0, ("muscle 0", "muscle 1"), ("type", "EMG"))
    (first,), (second, third) = source.poll(0.02), source.poll(0.02)
    assert (first.start_s, second.start_s, third.start_s) == (0.0, 0.032, 0.048)
    np.testing.assert_allclose(second.samples_uv[0], [32000.0, -32.0])
    source.stop()
    assert library.closed and source.poll(0.02) == []


def test_a_gap_in_the_time_stamps_is_lost_and_jitter_is_not() -> None:
    library = StandIn([chunk(0, 100), chunk(100, 100, 0.01), chunk(700, 100)], ["uV", "uV"], 1000.0)
    source = LslSource("mine", library=library)
    source.start()
    blocks = source.poll(0.02)
    assert [block.lost for block in blocks] == [0, 0, 500] and blocks[2].start_s == pytest.approx(0.7)


def test_a_silent_stream_ends() -> None:
    source = LslSource(library=StandIn([], ["uV"], 1000.0))
    source.start()
    for _ in range(round(SILENT_S * 10) + 1):
        assert source.poll(0.1) == []
    assert source.ended


def test_what_the_patient_is_told() -> None:
    with pytest.raises(SensorError, match="no_stream"):
        LslSource("nobody", library=StandIn([], ["uV"], 1000.0)).start()
    with pytest.raises(SensorError, match="no_rate"):
        LslSource(library=StandIn([], ["uV"], 0.0)).start()
    if importlib.util.find_spec("pylsl") is None:
        with pytest.raises(SensorError, match="no_library"):
            LslSource().start()


def test_a_real_stream() -> None:
    pylsl = pytest.importorskip("pylsl")
    info = pylsl.StreamInfo("musclewood test", "EMG", 2, 1000.0, "float32", "musclewood-test")
    outlet, source = pylsl.StreamOutlet(info), LslSource("musclewood test")
    source.start()
    begun_s, sent, blocks = time.monotonic(), 0, []
    while time.monotonic() - begun_s < 2.0:
        outlet.push_chunk([[float(n), 1.0] for n in range(sent, sent + 10)])
        sent += 10
        time.sleep(0.01)
        blocks += source.poll(0.01)
    source.stop()
    values = np.concatenate([block.samples_uv for block in blocks])[:, 0]
    assert len(values) > 1000 and (np.diff(values) == 1.0).all()
