"""Plain up-down rules for difficulty, kept to compare the skill model with. Higher levels are harder."""

from __future__ import annotations


class WeightedUpDown:
    """Kaernbach 1991: a fixed step harder after success, a larger one easier after failure.

    With steps in the proportion (1 - p) to p the level settles where success is p: p * harder = (1 - p) * easier.
    """

    def __init__(self, success_target: float, harder_step: float, level: float = 0.5) -> None:
        self.level = level
        self.harder_step = harder_step
        self.easier_step = harder_step * success_target / (1 - success_target)

    def ask(self) -> float:
        return self.level

    def tell(self, success: bool) -> None:
        self.level += self.harder_step if success else -self.easier_step


class TransformedUpDown:
    """Levitt 1971: harder after `wins` successes in a row, easier after each failure; settles at 0.5 ** (1 / wins)."""

    def __init__(self, wins: int, step: float, level: float = 0.5) -> None:
        self.level = level
        self._wins = wins
        self._step = step
        self._row = 0

    def ask(self) -> float:
        return self.level

    def tell(self, success: bool) -> None:
        if not success:
            self._row = 0
            self.level -= self._step
            return
        self._row += 1
        if self._row == self._wins:
            self._row = 0
            self.level += self._step
