"""Which share of an exercise's repetitions is done today without seeing the effort.  Pure.

Who always sees the effort learns to follow the picture: concurrent feedback guides, and is missed (Park, Shea & Wright
2000, J Mot Behav); half or fading knowledge of results taught isometric efforts, all of it did not (Aoyagi 2019, J Phys
Ther Sci 31:687).  So at most half, and how fast it grows with skill, are our choice.
"""

from __future__ import annotations

from collections.abc import Sequence

from musclewood.profiles.journal.history import PastSession
from musclewood.profiles.orders.exercises import AnyExercise

SEEING_FIRST = 2  # sessions in which an exercise is always seen
ORDERED = {"never": 0.0, "quarter": 0.25, "half": 0.5}
SKILLED, SKILLED_UNSEEN = 0.8, 0.7  # success from which a quarter, and then a half, is done without seeing
ENOUGH_UNSEEN, LATELY = 4, 2  # attempts that say something; sessions looked at


def unseen_share(exercise: AnyExercise, sessions: Sequence[PastSession]) -> float:
    """0 to 0.5, from the sessions before, the oldest first. Never in the first two in which it was tried."""
    tried = [one for one in sessions if one.attempts.get(exercise.id)]
    if exercise.door_closed == "never" or len(tried) < SEEING_FIRST:
        return 0.0
    if exercise.door_closed in ORDERED:
        return ORDERED[exercise.door_closed]
    reps = [rep for one in tried[-LATELY:] for rep in one.reps if rep.exercise_id == exercise.id]
    judged = [rep for rep in reps if rep.verdict != "unreadable"]
    seen = [rep.verdict == "counted" for rep in judged if not rep.unseen]
    unseen = [rep.verdict == "counted" for rep in judged if rep.unseen]
    if not seen or sum(seen) < SKILLED * len(seen):
        return 0.0
    well = len(unseen) >= ENOUGH_UNSEEN and sum(unseen) >= SKILLED_UNSEEN * len(unseen)
    return 0.5 if well else 0.25
