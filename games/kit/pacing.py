"""Words that stay long enough to be read.  Pure: told the time, knows no screen."""

from __future__ import annotations

from typing import Generic, TypeVar

LEAST_S = 0.8  # our choice: a short sentence is read at a glance in about this time; none changes faster
STEADY_S = 0.25  # our choice: what is wanted for a shorter moment is a wobble and not worth a sentence

Words = tuple[str, ...]
T = TypeVar("T")


class HeldInSight(Generic[T]):
    """Holds the last thing that was shown until it could be read; nothing is held back but the next one."""

    def __init__(self) -> None:
        self.shown: T | None = None
        self._shown_s = 0.0

    def step(self, dt_s: float, wanted: T | None) -> T | None:
        """Time went by and `wanted` would be shown now. Returns what is shown."""
        self._shown_s += dt_s
        if wanted != self.shown and (self.shown is None or wanted is None or self._shown_s >= LEAST_S):
            self.shown, self._shown_s = wanted, 0.0
        return self.shown


class PacedWords:
    """Holds what is said now, as keys of the catalogue, and lets it change only at a pace that can be read.

    A sentence that says stop is never kept waiting, and neither is the first.
    """

    def __init__(self) -> None:
        self.shown: Words = ()
        self._shown_s = 0.0
        self._next: Words = ()
        self._next_s = self._other_s = 0.0

    def step(self, dt_s: float, wanted: Words, *, stop: bool = False) -> Words:
        """Time went by and `wanted` would be said now; `stop` if it says to stop. Returns what is said."""
        self._shown_s += dt_s
        self._next_s = self._next_s + dt_s if wanted == self._next else 0.0
        self._other_s = self._other_s + dt_s if wanted != self.shown else 0.0
        self._next = wanted
        meant = self._next_s >= STEADY_S or self._other_s >= LEAST_S  # whoever wavers on must not read what was before
        read = self._shown_s >= LEAST_S and meant
        if wanted != self.shown and (stop or read or not self.shown):
            self.shown, self._shown_s = wanted, 0.0
        return self.shown
