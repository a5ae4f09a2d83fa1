"""One switch for everything: a short press moves on, a long one chooses when it is let go.  Pure; told the time.

A switch is whatever its box stands in for: the space bar, Enter, a click, a controller's bottom button.
"""

from __future__ import annotations

from musclewood.games.kit.controls import Act, Intent

LONG_S = 1.0  # our choice: twice a slow tap
CRAMP_S = 6.0  # held for longer than anybody holds to choose; our choice
AGAIN_S = 0.25  # a hand that trembles lets go and presses again within so long; our choice
TURN_ON_S = 4.0  # held so long outside a session, any key of these becomes a switch; our choice


class OneSwitch:
    """Weighs presses. `held_share` (0-1) fills up to the long one for all to see."""

    def __init__(self) -> None:
        self._down = False
        self._held_s = 0.0
        self._up_s = AGAIN_S

    @property
    def held_share(self) -> float:
        return min(1.0, self._held_s / LONG_S) if self._down and self._held_s <= CRAMP_S else 0.0

    @property
    def held_s(self) -> float:
        """How long it has been held down now, s."""
        return self._held_s if self._down else 0.0

    def forget(self) -> None:
        """The press under way means nothing any more."""
        self._down, self._held_s, self._up_s = False, 0.0, 0.0

    def press(self, down: bool) -> None:
        """It goes down or up."""
        if down and not self._down:
            self._held_s = self._held_s if self._up_s < AGAIN_S else 0.0
        if not down and self._down:
            self._up_s = 0.0
        self._down = down

    def step(self, dt_s: float) -> list[Intent]:
        """Time passes; what the press that has ended meant, once it is sure that it has ended."""
        if self._down:
            self._held_s += dt_s
            return []
        before, self._up_s = self._up_s, self._up_s + dt_s
        if not before < AGAIN_S <= self._up_s:
            return []
        held_s, self._held_s = self._held_s, 0.0
        if held_s <= 0.0 or held_s > CRAMP_S:
            return []
        return [Intent(Act.CHOOSE if held_s >= LONG_S else Act.NEXT, "switch")]
