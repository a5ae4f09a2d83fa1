"""When knowledge of results is given, and when help.  Pure; hears the events of the one rep engine.

Misses are told always, good ones less and less as skill grows: results after every trial help at once and teach less
(Winstein & Schmidt 1990, J Exp Psychol Learn Mem Cogn 16:677: half of the trials, fading, was remembered better; Aoyagi
2019, J Phys Ther Sci 31:687: the same of isometric efforts).  How fast they fade is our choice.  An order may set it.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from musclewood.games.engine.rep_events import EffortRetuned, EffortStarted, RepEvent, RepMade, RepMissed
from musclewood.games.engine.results import Result, result_of

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

Help = Literal["", "shown", "easier", "rest", "pads", "therapist"]

ALIKE = 3  # so many misses alike in a row are helped
CALL_AFTER = 6  # and so many say that it is not for the patient to solve
EVERY_AT_FIRST, EVERY_SECOND = 3, 6  # good ones in a row until every second, then every third is told of


class Teacher:
    """Follows one exercise. `told` is what is to be said of the last attempt now, None where nothing is."""

    def __init__(self, planned: PlannedExercise) -> None:
        self._planned = planned
        self.told: Result | None = None
        self.help: Help = ""
        self._cued = False
        self._code, self._alike = "", 0
        self._streak = self._since_told = 0
        self._eased = False

    def hear(self, events: Sequence[RepEvent]) -> None:
        """Take what the rep engine told of one frame."""
        self._eased = any(isinstance(one, EffortRetuned) and self._easier(one) for one in events)
        for event in events:
            match event:
                case EffortStarted():
                    self._cued, self.told, self.help = True, None, ""
                case RepMade(rep) | RepMissed(rep):
                    # A cue that nobody answered ends without a start, and is no stir in the rest.
                    cued = self._cued or rep.verdict == "weak"
                    self._judged(result_of(rep, self._planned, cued=cued))
                    self._cued = False

    def _easier(self, event: EffortRetuned) -> bool:
        return event.target_pct_mvc < event.before_pct_mvc or event.wider_pct_mvc is not None

    def _judged(self, result: Result) -> None:
        self._alike = self._alike + 1 if result.code == self._code else 1
        self._code = result.code
        if not result.made:
            self._streak = self._since_told = 0
            self.told, self.help = result, self._help(result)
            return
        self._streak += 1
        self._since_told += 1
        due = result.unseen or self._since_told >= self._every()
        self.told, self.help = (result if due else None), ""
        if due:
            self._since_told = 0

    def _every(self) -> int:
        """Of how many good ones one is told of."""
        ordered = {"always": 1, "half": 2}.get(self._planned.results)
        if ordered:
            return ordered
        return 1 if self._streak <= EVERY_AT_FIRST else 2 if self._streak <= EVERY_SECOND else 3

    def _help(self, result: Result) -> Help:
        """After several alike: see it slowly, have it easier, or ask somebody."""
        if self._alike < ALIKE:
            return ""
        if self._alike >= CALL_AFTER:
            return "therapist"
        if result.code == "unreadable":
            return "pads"
        if result.code in ("rest", "stirred", "late"):
            return "rest"
        return "easier" if self._eased else "shown"
