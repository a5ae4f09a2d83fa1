"""Several sensors of one name: the one that is worn is the one whose signal rises when its wearer squeezes. No I/O.

All numbers are our choices: nobody is measured here, only told apart from a sensor that lies on the table.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Hashable, Iterable
from typing import Generic, TypeVar

import numpy as np
from musclewood.signal.stream.blocks import Block

WINDOW_S = 0.25
KEPT_WINDOWS = 40  # ten seconds, of which the quietest are rest
RISEN, STILL = 4.0, 2.0  # times its own rest: clearly squeezed, clearly not
IN_A_ROW = 3  # windows in which one has risen and no other
NEXT_TO_NOTHING_UV = 1.0  # an input that is quieter is not connected to anybody; divides nothing by zero

Key = TypeVar("Key", bound=Hashable)


class Liveliness:
    """How far above its own rest the liveliest channel of one sensor is. Blocks of any size give the same windows."""

    def __init__(self, rate_hz: float, envelope: bool) -> None:
        self._samples = max(2, round(WINDOW_S * rate_hz))
        self._envelope = envelope
        self._waiting: list[np.ndarray] = []
        self._levels: deque[np.ndarray] = deque(maxlen=KEPT_WINDOWS)
        self.times_rest = 1.0
        self.windows = 0

    def hear(self, blocks: Iterable[Block]) -> None:
        self._waiting += [block.samples_uv for block in blocks if len(block.samples_uv)]
        while sum(map(len, self._waiting)) >= self._samples:
            together = np.concatenate(self._waiting)
            window, self._waiting = together[: self._samples], [together[self._samples :]]
            self._close(window)

    def _close(self, window: np.ndarray) -> None:
        """An EMG swings about its mean; an envelope is its own level."""
        level = np.abs(window).mean(axis=0) if self._envelope else window.std(axis=0)
        self._levels.append(level)
        rest = np.percentile(np.stack(self._levels), 20, axis=0)
        self.times_rest = float((level / np.maximum(rest, NEXT_TO_NOTHING_UV)).max())
        self.windows += 1


class TellingApart(Generic[Key]):
    """Which of several sensors is squeezed; `moved` stays None until one has been, alone, for a while."""

    def __init__(self, sensors: dict[Key, Liveliness]) -> None:
        self.sensors = sensors
        self.moved: Key | None = None
        self._rising: Key | None = None
        self._since = 0  # windows of the one that rises, when it began to

    def step(self) -> None:
        """Weigh what was heard; call it after each `hear`."""
        risen = [key for key, one in self.sensors.items() if one.times_rest >= RISEN]
        still = sum(one.times_rest < STILL for one in self.sensors.values())
        alone = risen[0] if len(risen) == 1 and still == len(self.sensors) - 1 else None
        if alone is None:
            self._rising = None
            return
        windows = self.sensors[alone].windows
        if alone != self._rising:
            self._rising, self._since = alone, windows
        if windows - self._since + 1 >= IN_A_ROW:
            self.moved = alone
