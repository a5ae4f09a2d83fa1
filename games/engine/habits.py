"""What a person's own trials told about their muscles: how restless rest is, how late they start and let go.  Pure."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from musclewood.games.engine.session_events import Happening, ReferenceFound, Tick
from musclewood.profiles.journal.records import CalibrationRecord
from musclewood.profiles.orders.exercises import KINDS
from musclewood.profiles.orders.tables import CalibrationOrder, Muscle
from musclewood.profiles.plan.dose import PlannedExercise
from musclewood.signal.measures.faint_efforts import NOISY_REST_UV, Rest
from musclewood.signal.measures.levels import CLEAR_OF_STEPS, FaintLevel, RestAgain, too_faint
from musclewood.signal.measures.remarks import Remark
from musclewood.signal.stream.activation import Reference

# All of these are our choice; the reason stands beside each.
USUAL_SCATTER = 0.1  # of rest, where it was not measured
USUAL_START_S, USUAL_RELEASE_S = 0.3, 0.4  # healthy: 0.2 and 0.4 s (Seo 2009)
LONGEST_START_S, LONGEST_RELEASE_S = 8.0, 12.0  # twice and more of the latest hand (1.9 and 5.0 s, Seo 2009)
SPARE = 2.0  # nobody is as quick every time as in the middle of their trials
REST_AGAIN = "Rest was measured again: the muscle's tone had changed."


@dataclass(frozen=True, slots=True)
class Habits:
    """One muscle: scatter of rest (log), how late it starts and stops, in seconds, and whether its reading stands still
    at rest, since the sensor's steps are larger than it."""

    scatter: float = USUAL_SCATTER
    start_s: float = USUAL_START_S
    release_s: float = USUAL_RELEASE_S
    standing: bool = False


def habits_of(record: CalibrationRecord) -> Habits:
    """What one calibration showed; what it did not show is as usual."""
    return Habits(
        record.rest_scatter or USUAL_SCATTER,
        USUAL_START_S if record.late_start_s is None else record.late_start_s,
        USUAL_RELEASE_S if record.late_release_s is None else record.late_release_s,
        bool(record.rest_hidden),
    )


def in_own_time(exercise: PlannedExercise, order: CalibrationOrder, habits: Mapping[int, Habits]) -> PlannedExercise:
    """The exercise with waiting and release times of this order and this person.

    What is ordered holds; else twice what the person showed, never less than everybody gets and never beyond the
    bounds.
    """
    own = [habits.get(channel, Habits()) for channel in exercise.channels]
    late_s = SPARE * max((one.start_s for one in own), default=USUAL_START_S)
    slow_s = SPARE * max((one.release_s for one in own), default=USUAL_RELEASE_S)
    return replace(
        exercise,
        start_s=order.start_s if order.start_s is not None else min(late_s, LONGEST_START_S),
        release_s=order.release_s if order.release_s is not None else min(slow_s, LONGEST_RELEASE_S),
    )


def faint_levels(
    exercise: PlannedExercise, reference: Reference, habits: Mapping[int, Habits], step_s: float
) -> dict[int, FaintLevel]:
    """By channel, where the efforts of this exercise are too faint to be detected. A brisk one cannot be read so."""
    if exercise.rise_s is not None:
        return {}
    still = KINDS[exercise.kind].traits.still
    lowest = exercise.target_pct_mvc if still else exercise.target_pct_mvc - exercise.tolerance_pct_mvc
    found = {}
    for channel in exercise.channels:
        rest_uv, most_uv = reference.rest_uv[channel], reference.mvc_uv[channel]
        if too_faint(rest_uv, most_uv, lowest / 100.0):
            found[channel] = FaintLevel(rest_uv, most_uv, lowest / 100.0, habits.get(channel, Habits()).scatter, step_s)
    return found


def why_hidden(
    exercise: PlannedExercise, levels: Mapping[int, FaintLevel], reference: Reference, habits: Mapping[int, Habits]
) -> Remark | None:
    """What is in the way where the effort that is asked for cannot be told from rest; nobody is asked for it then."""
    traits = KINDS[exercise.kind].traits
    asked = (exercise.ceiling_pct_mvc if exercise.asks == "at least" else exercise.target_pct_mvc) / 100.0
    for channel in () if traits.still else (exercise.channels[place] for place in traits.trained):
        standing = habits.get(channel, Habits()).standing
        if channel not in levels or levels[channel].tells(asked, CLEAR_OF_STEPS if standing else 1.0):
            continue
        if standing:
            return Remark.COARSE
        if reference.rest_uv[channel] > NOISY_REST_UV:
            return Remark.NOISY
        return Remark.UNQUIET if habits.get(channel, Habits()).scatter > USUAL_SCATTER else Remark.HIDDEN
    return None


class RestWatch:
    """Measures the rest of an exercise's trained muscles again whenever they rest.

    Not while staying quiet is the exercise, nor of a muscle that is to stay quiet: there a risen tone is what counts.
    """

    def __init__(
        self,
        exercise: PlannedExercise,
        muscles: Mapping[int, Muscle],
        reference: Reference,
        step_s: float,
        levels: Mapping[int, FaintLevel] | None = None,
    ) -> None:
        """`levels` read what is too faint to be detected; they are told of rest as it is seen."""
        traits = KINDS[exercise.kind].traits
        trained = () if traits.still else tuple(exercise.channels[place] for place in traits.trained)
        self.reference = reference
        self._muscles, self._levels = muscles, levels or {}
        self._again = {
            channel: RestAgain(reference.rest_uv[channel], reference.mvc_uv[channel], step_s, channel in self._levels)
            for channel in trained
        }
        self._seen = {
            channel: Rest.after_calibration(step_s, self._levels[channel].scatter)
            for channel in trained
            if channel in self._levels
        }
        self._stretch: dict[int, list[float]] = {channel: [] for channel in self._seen}

    def step(self, tick: Tick, resting: bool, time_s: float) -> list[Happening]:
        """Take in one tick; `resting`: nothing is asked of the muscles now."""
        told = []
        for channel, again in self._again.items():
            level = self._levels.get(channel)
            still = resting and tick.readable[channel]
            calm = still and not (level.contracting if level else tick.contracting[channel])
            rest_uv = again.step(tick.amplitude_uv[channel], calm)
            if rest_uv is not None:
                told.append(self._moved(channel, rest_uv, time_s))
            if level:
                self._learn(channel, level, tick.amplitude_uv[channel], still and not tick.contracting[channel])
        return told

    def _learn(self, channel: int, level: FaintLevel, amplitude_uv: float, still: bool) -> None:
        """How uneven rest is, from every stretch of it: also from what stirs in it, once the muscle has let go."""
        stretch = self._stretch[channel]
        if still and (stretch or not level.contracting):
            stretch.append(amplitude_uv)
        elif stretch:
            self._seen[channel].add(stretch)
            self._stretch[channel] = []
            level.know_scatter(self._seen[channel].scatter)

    def _moved(self, channel: int, rest_uv: float, time_s: float) -> Happening:
        rests = tuple(rest_uv if one == channel else old for one, old in enumerate(self.reference.rest_uv))
        self.reference = Reference(rests, self.reference.mvc_uv)
        if channel in self._levels:
            self._levels[channel].refer_to(rest_uv, self.reference.mvc_uv[channel])
        muscle = self._muscles[channel]
        record = CalibrationRecord(
            muscle.id, channel, time_s, rest_uv, math.nan, None, (), self.reference.mvc_uv[channel], REST_AGAIN
        )
        return Happening(ReferenceFound(self.reference), record)
