"""Why a session ended: by whom, or by which rule on which answer.  Pure; every screen and record tells it from here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from musclewood.profiles.journal.records import ENDED_BY_ITSELF, Ending
from musclewood.profiles.orders.tables import StopRules
from musclewood.profiles.plan.safety import pain_rule

Why = Literal[
    "done", "nothing", "pain-level", "pain-rise", "patient", "nobody", "no-effort", "not-relaxed", "no-maximum",
    "hidden", "minutes", "attempts", "sensor",
]  # fmt: skip
Moment = Literal["before", "during", "after"]  # the exercises

NOBODY, NO_EFFORT, NOT_RELAXED, NO_MAXIMUM, HIDDEN = ENDED_BY_ITSELF

# What the journal keeps of each: how it ended, and one plain sentence where that does not say all.
KEPT: dict[Why, tuple[Ending, str | None]] = {
    "done": ("complete", None),
    "nothing": ("complete", "nothing was to be done"),
    "pain-level": ("pain", None),
    "pain-rise": ("pain", None),
    "patient": ("stopped", None),
    "nobody": ("stopped", NOBODY),
    "no-effort": ("stopped", NO_EFFORT),
    "not-relaxed": ("stopped", NOT_RELAXED),
    "no-maximum": ("stopped", NO_MAXIMUM),
    "hidden": ("stopped", HIDDEN),
    "minutes": ("ceiling", "the minutes of the day were used up"),
    "attempts": ("ceiling", None),
    "sensor": ("sensor", None),
}


@dataclass(frozen=True, slots=True)
class Outcome:
    """How it ended. For pain: the answer from 0 to 10, the one before the exercises, the rule's limit, and when it was.

    `told` says what was in the way: a `Remark`.
    """

    why: Why
    pain: int = 0
    before: int = 0
    limit: int = 0
    moment: Moment = "during"
    told: str | None = None

    @property
    def ending(self) -> Ending:
        return KEPT[self.why][0]

    @property
    def note(self) -> str | None:
        """One plain sentence for the journal, if there is more to say than the ending."""
        match self.why:
            case "pain-level":
                rule = f"the order stops at {self.limit}"
                return {
                    "before": f"pain {self.pain} of 10 before the exercises ({rule})",
                    "during": f"pain {self.pain} of 10 ended the session ({rule})",
                    "after": f"pain {self.pain} of 10 after the exercises ({rule})",
                }[self.moment]
            case "pain-rise":
                rose = f"pain rose from {self.before} to {self.pain} of 10"
                rule = f"the order stops at a rise of {self.limit}"
                over = {
                    "before": "before the exercises",
                    "during": "and ended the session",
                    "after": "by the end of the exercises",
                }[self.moment]
                return f"{rose} {over} ({rule})"
            case _:
                return KEPT[self.why][1]


def ended_by_pain(pain: int, before: int | None, rules: StopRules, moment: Moment) -> Outcome | None:
    """The end that this answer means by the order's rules; None where it means none."""
    match pain_rule(pain, before, rules):
        case "level":
            return Outcome("pain-level", pain, before or 0, rules.pain_stop, moment)
        case "rise":
            return Outcome("pain-rise", pain, before or 0, rules.pain_rise_stop, moment)
        case None:
            return None
