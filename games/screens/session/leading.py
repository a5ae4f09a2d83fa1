"""A sensor that is listened to outside a session, so that a muscle alone can lead from the
village into one and home."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeAlias

from musclewood.games.kit.controls import Intent
from musclewood.games.kit.deliberate import Asked, MuscleChooser
from musclewood.signal.errors import SensorError

if TYPE_CHECKING:  # listening takes its time to load, and Today does not wait for it
    from musclewood.games.screens.base.play import Attentive

Hear: TypeAlias = "Callable[[], Attentive]"


class MuscleLead:
    """Opens the sensor when it is first asked. After a failure it stays closed until it is let go."""

    def __init__(self) -> None:
        self._ear: Attentive | None = None
        self._failed = False
        self._chooser = MuscleChooser()

    @property
    def held_share(self) -> float:
        """How far a long contraction has come, 0-1."""
        return self._chooser.held_share

    @property
    def read(self) -> bool:
        """Whether there was time to read what is asked."""
        return self._chooser.read

    def listen(self, hear: Hear, asked: Asked, dt_s: float) -> list[Intent] | None:
        """What the last `dt_s` seconds of muscle answer to what is asked; None while no sensor can be heard."""
        if self._failed:
            return None
        try:
            if self._ear is None:
                self._ear = hear()
                self._ear.source.start()
            self._ear.poll(dt_s)
        except SensorError:
            self.let_go()
            self._failed = True
            return None
        last = self._ear.last
        return self._chooser.step(asked, bool(last and any(last.contracting)), dt_s)

    def let_go(self) -> None:
        """Close the sensor, which a session may want now."""
        if self._ear is not None:
            self._ear.close()
        self._ear, self._failed, self._chooser = None, False, MuscleChooser()
