"""Simulated players.  They see what a patient sees, the session's view, and say what they try to do.

A player answers with the effort it aims at, one fraction of its true maximum per channel of the source.  Reaction time,
unsteadiness and fatigue are the body's business, not the player's.

Where stillness is asked (`relax`) a character shows in what it cannot leave off: the shaky one never quite lets go, the
over-keen one tries to help at first, the random one fidgets.  Whoever sleeps follows no cue and has a quiet muscle:
that is what was asked, and it counts, since the rep engine listens to the muscle and not to the person.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable

from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.patterns import Effort, goal_of
from musclewood.games.engine.rep_events import RepView
from musclewood.games.engine.session_events import SessionView

RESTLESS_TONE = 0.75  # of the limit of stillness, so that the waver crosses it now and then; our choice
FORESIGHT_S = 0.4  # how far ahead one must steer to be in time: reaction, rise and display together


class Player:
    """The steady one, and the pattern for all others: does what is asked and corrects by what it sees."""

    def __init__(self, channels: int, seed: int = 0) -> None:
        self.channels = channels
        self.random = random.Random(seed)
        self._correction = 1.0
        self._last_s = 0.0
        self._pattern: tuple[float, ...] = ()

    def aim(self, view: SessionView) -> Effort:
        """What to try now."""
        step_s, self._last_s = max(0.0, view.time_s - self._last_s), view.time_s
        if view.paused is not None:
            return self._nothing()
        if view.calibration is not None:
            channel = view.calibration.channel
            return self._only({channel: 1.0}) if view.calibration.phase == "trial" else self._nothing()
        if view.rep is None or view.exercise is None:
            return self._nothing()
        self._pattern = view.exercise.pattern or ()
        self._correct(view.rep, step_s)
        wanted = self.wanted(view.rep, view.time_s)
        return self._only(dict(zip(view.exercise.channels, wanted, strict=False)))

    def wanted(self, rep: RepView, time_s: float) -> Effort:
        """The effort of the exercise's channels, the trained muscle first."""
        if not self.working(rep):
            return (0.0,)
        return OF_KIND[rep.kind].pattern.shape(self._correction * self.level(rep, time_s))

    def working(self, rep: RepView) -> bool:
        """Whether to contract now: on the cue, and no longer than it takes."""
        return OF_KIND[rep.kind].pattern.working(rep)

    def level(self, rep: RepView, time_s: float) -> float:
        """The level to give, seen a little ahead where the way is drawn."""
        return goal_of(rep) * self._ahead(rep.effort_s + FORESIGHT_S, rep.hold_s)

    def _ahead(self, time_s: float, pattern_s: float) -> float:
        if not self._pattern:
            return 1.0
        place = min(1.0, time_s / pattern_s) * (len(self._pattern) - 1)
        before = min(int(place), len(self._pattern) - 2)
        return self._pattern[before] + (place - before) * (self._pattern[before + 1] - self._pattern[before])

    def _correct(self, rep: RepView, step_s: float) -> None:
        """Slow correction by what is seen, as a person steers by a display."""
        wanted = goal_of(rep) if rep.pattern_target is None else rep.pattern_target
        if (
            rep.unseen
            or rep.phase != "effort"
            or rep.effort_s < 0.8
            or wanted <= 0.0
            or not OF_KIND[rep.kind].pattern.steers
        ):
            return
        miss = (wanted - rep.level[0]) / wanted
        self._correction = min(2.0, max(0.5, self._correction * (1.0 + 0.6 * miss * step_s)))

    def _nothing(self) -> Effort:
        return (0.0,) * self.channels

    def _only(self, efforts: dict[int, float]) -> Effort:
        return tuple(min(1.0, efforts.get(channel, 0.0)) for channel in range(self.channels))


class Shaky(Player):
    """Wavers a good deal around the target, slowly and quickly; asked to be still, never quite lets go."""

    def working(self, rep: RepView) -> bool:
        return rep.phase == "effort" if _still(rep) else super().working(rep)

    def level(self, rep: RepView, time_s: float) -> float:
        waver = 0.2 * math.sin(2.0 * math.pi * 0.4 * time_s) + 0.15 * math.sin(2.0 * math.pi * 1.7 * time_s)
        tone = RESTLESS_TONE if _still(rep) else 1.0
        return super().level(rep, time_s) * tone * (1.0 + waver)


class Tired(Player):
    """Begins well and gives a little less with every rep of the set."""

    def level(self, rep: RepView, time_s: float) -> float:
        return super().level(rep, time_s) * max(0.3, 1.0 - 0.08 * (rep.made + 2 * (rep.set_number - 1)))

    def _correct(self, rep: RepView, step_s: float) -> None:
        """Sees that it is too little, and cannot help it."""


class Late(Player):
    """Needs a long time to answer a cue."""

    delay_s = 6.0

    def __init__(self, channels: int, seed: int = 0) -> None:
        super().__init__(channels, seed)
        self._cued_s: float | None = None

    def working(self, rep: RepView) -> bool:
        if rep.phase != "ready":
            self._cued_s = None
            return super().working(rep)
        self._cued_s = self._last_s if self._cued_s is None else self._cued_s
        return self._last_s - self._cued_s >= self.delay_s and super().working(rep)


class OverKeen(Player):
    """Does too much of everything: too strong at first, and often again before the rest is over."""

    def __init__(self, channels: int, seed: int = 0) -> None:
        super().__init__(channels, seed)
        self._decided = False
        self._eager_until_s = 0.0

    def working(self, rep: RepView) -> bool:
        if rep.phase not in ("rest", "set rest"):
            self._decided = False
        elif not self._decided and rep.left_s < 1.0:
            self._decided = True
            if self.random.random() < 0.5:
                self._eager_until_s = self._last_s + 1.5
        if _still(rep):
            return rep.phase == "effort" and rep.effort_s < 2.0
        return self._last_s < self._eager_until_s or super().working(rep)

    def level(self, rep: RepView, time_s: float) -> float:
        return super().level(rep, time_s) * (1.6 if rep.effort_s < 2.0 else 1.0)


class Random(Player):
    """Presses as it likes, whatever is asked."""

    def __init__(self, channels: int, seed: int = 0) -> None:
        super().__init__(channels, seed)
        self._until_s, self._chosen = 0.0, self._nothing()

    def aim(self, view: SessionView) -> Effort:
        if view.calibration is not None:
            return super().aim(view)
        if view.time_s >= self._until_s:
            fidgets = view.rep is not None and _still(view.rep)
            self._until_s = view.time_s + self.random.uniform(0.2, 3.0 if fidgets else 6.0)
            self._chosen = tuple(self._press(still_share=0.25 if fidgets else 0.67) for _ in range(self.channels))
        return self._chosen

    def _press(self, still_share: float) -> float:
        return 0.0 if self.random.random() < still_share else self.random.random()


class Asleep(Player):
    """Calibrates, and then never answers a cue."""

    def wanted(self, rep: RepView, time_s: float) -> Effort:
        return (0.0,)


def _still(rep: RepView) -> bool:
    """Whether stillness is asked, not effort."""
    return OF_KIND[rep.kind].traits.still


PLAYERS: dict[str, Callable[[int, int], Player]] = {
    "steady": Player,
    "shaky": Shaky,
    "tired": Tired,
    "late": Late,
    "over-keen": OverKeen,
    "random": Random,
    "asleep": Asleep,
}
