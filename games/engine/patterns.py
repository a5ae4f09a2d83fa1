"""How a willing person answers the cue of each kind: when to contract, with which muscles, and what is corrected.

Characters (`players.py`) differ in how well they do it; what is to be done is the kind's own.
"""

from __future__ import annotations

from musclewood.games.engine.rep_events import RepView

Effort = tuple[float, ...]


def goal_of(rep: RepView) -> float:
    """The effort to go for: the middle of a band, or comfortably above a goal, well below the ceiling."""
    return min(1.2 * rep.target, (rep.target + rep.high) / 2) if rep.at_least else rep.target


class Pattern:
    """On the cue, one muscle, steered by what is seen, until it is counted."""

    steers = True

    def working(self, rep: RepView) -> bool:
        """Whether to contract now."""
        return rep.phase in ("ready", "effort")

    def shape(self, level: float) -> Effort:
        """The effort of the exercise's muscles, the trained one first."""
        return (level,)


class Briefly(Pattern):
    """Off again as soon as it has been long enough; over too soon to be steered."""

    steers = False

    def working(self, rep: RepView) -> bool:
        return super().working(rep) and rep.held_s < 1.1 * rep.hold_s


class WithTheWay(Pattern):
    """Only while the way that is drawn runs."""

    def working(self, rep: RepView) -> bool:
        return rep.phase == "effort"


class LyingStill(Pattern):
    """Not at all."""

    steers = False

    def working(self, rep: RepView) -> bool:
        return False


class BothAlike(Pattern):
    """Two muscles with the same effort."""

    def shape(self, level: float) -> Effort:
        return level, level
