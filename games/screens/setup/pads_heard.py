"""The sensor while its pads are put on: over which muscle it gives a signal that can be used."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable

from musclewood.games.running.errors import CommandError
from musclewood.games.screens.base.play import Attentive
from musclewood.signal.errors import SensorError

CLEAR_S = 3  # seconds in a row that are not poor; a session asks for two once more before it measures. Our choice.


class PadsHeard:
    """Opens the sensor when it is first asked; after a failure it stays closed, and nobody hears anything."""

    def __init__(self, hear: Callable[[], Attentive] | None) -> None:
        self._hear = hear
        self._ear: Attentive | None = None
        self._clear_s: dict[int, int] = defaultdict(int)

    def step(self, dt_s: float) -> None:
        """Listen to what the last `dt_s` seconds brought."""
        if self._hear is None:
            return
        try:
            if self._ear is None:
                self._ear = self._hear()
                self._ear.source.start()
            heard = self._ear.poll(dt_s)
        except (CommandError, SensorError):
            self.close()
            return
        for quality in heard.qualities:
            for channel, verdict in enumerate(quality.verdict):
                self._clear_s[channel] = 0 if verdict == "poor" else self._clear_s[channel] + 1

    def clear(self, channel: int) -> bool:
        """Whether the signal of this channel has been good enough for a while."""
        return self._ear is not None and self._clear_s[channel] >= CLEAR_S

    def close(self) -> None:
        """Let the sensor go, which a session wants now; it is not opened again."""
        if self._ear is not None:
            self._ear.close()
        self._ear = self._hear = None
        self._clear_s.clear()
