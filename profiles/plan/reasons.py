"""Why a day or an exercise is as it is: codes. What a person reads of them stands in the
catalogues of each language."""

from __future__ import annotations

from enum import StrEnum


class Reason(StrEnum):
    """Why today is refused, shorter or worth a word; a key under `reasons` in the catalogues."""

    PAIN = "pain"
    DONE = "done"
    WEEK_DONE = "week"
    MINUTES_DONE = "minutes"
    REPS_DONE = "most"
    TOO_SOON = "soon"
    STILL_RESTING = "still"
    SET_ASIDE = "set-aside"
    CLOCK_MOVED = "clock-moved"
    CLOCK_BEHIND = "clock-behind"
    BEGINS_LATER = "later"
    ENDED = "ended"
    REST_DAY = "rest"
    REVIEW_PASSED = "review"
    SHORTER = "shorter"
    NO_PRACTICE = "practice"


# A rest well earned; after pain or with a wrong clock nobody says so.
RESTFUL = frozenset({Reason.DONE, Reason.WEEK_DONE, Reason.MINUTES_DONE, Reason.REPS_DONE, Reason.REST_DAY})


class Change(StrEnum):
    """Which way an exercise was moved, between two sessions or during one ('now').

    The patient reads it as a key under `today.scaled` in the catalogues, the therapist as one under `scaling` in the
    report's.
    """

    HARDER = "harder"
    EASIER = "easier"
    PAIN = "pain"
    HARDER_NOW = "harder-now"
    EASIER_NOW = "easier-now"


_CODES = frozenset(change.value for change in Change)
# Journals and hand-overs of earlier versions kept a sentence in place of the code.
_ONCE_WRITTEN = {
    "It goes well: a little harder today.": Change.HARDER,
    "A little easier today, so that more succeeds.": Change.EASIER,
    "Easier today, because of the pain.": Change.PAIN,
    "The exercise was made harder during the session.": Change.HARDER_NOW,
    "The exercise was made easier during the session.": Change.EASIER_NOW,
}


def change_kept(text: str) -> Change | None:
    """The change that a record keeps, as a code or in the words of an earlier version; None where it is neither."""
    return _ONCE_WRITTEN.get(text) or (Change(text) if text in _CODES else None)
