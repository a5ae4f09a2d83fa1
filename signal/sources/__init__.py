"""Where samples come from: one small contract that a sensor, a file, a model patient and the keyboard all keep."""

from __future__ import annotations

from typing import Literal, Protocol, runtime_checkable

from musclewood.signal.stream.blocks import Block

SourceKind = Literal["ble", "replay", "simulated", "keyboard", "lsl"]


class Source(Protocol):
    """A stream of blocks. Time is passed in: a source never reads a clock on behalf of its caller."""

    @property
    def kind(self) -> SourceKind: ...

    @property
    def rate_hz(self) -> float: ...

    @property
    def labels(self) -> tuple[str, ...]:
        """One label per channel, in the order of the columns of every block."""

    @property
    def envelope(self) -> bool:
        """True if the samples are already a smoothed amplitude and need neither conditioning nor estimation."""

    @property
    def ended(self) -> bool:
        """True once nothing more will come: a recording at its end, a sensor given up."""

    def start(self) -> None: ...

    def stop(self) -> None: ...

    def poll(self, elapsed_s: float) -> list[Block]:
        """All that arrived since the last poll, without waiting; makers of samples make `elapsed_s` of them."""


@runtime_checkable
class Arriving(Protocol):
    """What a source offers besides, if its samples arrive by themselves: they can be worked on as they come."""

    def wait(self, at_most_s: float) -> list[Block]:
        """All that arrived since the last call; if nothing did, whatever arrives first within `at_most_s`."""


class SampleClock:
    """Turns elapsed seconds into whole samples, so that any sizes of step add up to the same count."""

    def __init__(self, rate_hz: float) -> None:
        self._rate_hz = rate_hz
        self._elapsed_s = 0.0
        self.count = 0

    def advance(self, elapsed_s: float) -> int:
        """How many samples fall due within the next `elapsed_s` seconds."""
        self._elapsed_s += max(0.0, elapsed_s)
        # One ten-thousandth of a sample absorbs the rounding of summed steps.
        due = int(self._elapsed_s * self._rate_hz + 1e-4)
        fresh = due - self.count
        self.count = due
        return fresh
