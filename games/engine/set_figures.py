"""What the journal keeps of a set beside its reps: how well it was read, how tired the muscle got, co-contraction.
Pure."""

from __future__ import annotations

import math
from collections.abc import Sequence

from musclewood.games.engine.rep_events import Reading
from musclewood.profiles.orders.exercises import KINDS
from musclewood.profiles.plan.dose import PlannedExercise
from musclewood.signal.measures.coordination import falconer_winter_percent
from musclewood.signal.measures.fatigue import FEWEST_BURSTS, Burst, Fatigue, assess_fatigue
from musclewood.signal.quality.quality import Quality

# As over a whole recording (`summarise_quality`): poor if a fifth of the seconds is, good if nine tenths are. Our
# choice.
POOR_SHARE, GOOD_SHARE = 0.2, 0.9


class SetFigures:
    """Fed with every tick, second and contraction of one set."""

    def __init__(self, exercise: PlannedExercise) -> None:
        self._channels = exercise.channels
        self._opposite = KINDS[exercise.kind].traits.partner == "opposite"
        self._limit_pct = exercise.fatigue_decline_pct
        self._ticks = self._readable = 0
        self._verdicts: list[str] = []
        self._bursts: list[Burst] = []
        self._together: list[tuple[float, ...]] = []

    def tick(self, reading: Reading, at_work: bool) -> None:
        """One tick; `at_work` while an attempt is being made."""
        self._ticks += 1
        self._readable += reading.readable
        if self._opposite and at_work and reading.readable:
            self._together.append(reading.activation)

    def second(self, quality: Quality) -> None:
        """The verdict on one second of signal; the worst of the exercise's channels stands for all."""
        verdicts = {quality.verdict[channel] for channel in self._channels}
        self._verdicts.append(next(word for word in ("poor", "fair", "good") if word in verdicts))

    def contraction(self, burst: Burst) -> None:
        """The spectrum of one attempt."""
        self._bursts.append(burst)

    @property
    def tired(self) -> bool:
        """The spectrum has sunk beyond chance, and as far as the therapist's limit."""
        fatigue = self._fatigue()
        limited = self._limit_pct is not None and 100.0 * fatigue.decline >= self._limit_pct
        return fatigue.fatigued and limited

    @property
    def decline_pct(self) -> float | None:
        """How far the median frequency sank over the set, %; None before there are enough contractions to say so."""
        decline = 100.0 * self._fatigue().decline
        return decline if len(self._bursts) >= FEWEST_BURSTS and math.isfinite(decline) else None

    @property
    def readable_share(self) -> float | None:
        return self._readable / self._ticks if self._ticks else None

    @property
    def quality(self) -> str | None:
        return _summed_up(self._verdicts)

    @property
    def cocontraction_pct(self) -> float | None:
        """Falconer and Winter's index over the set's attempts; None where there is no opposite muscle."""
        if not self._together:
            return None
        first, second = zip(*self._together, strict=True)
        return falconer_winter_percent(first, second)

    def _fatigue(self) -> Fatigue:
        return assess_fatigue(self._bursts)


def _summed_up(verdicts: Sequence[str]) -> str | None:
    if not verdicts:
        return None
    if verdicts.count("poor") >= POOR_SHARE * len(verdicts):
        return "poor"
    return "good" if verdicts.count("good") >= GOOD_SHARE * len(verdicts) else "fair"
