"""Which share is done without seeing: never in the first two sessions, never more than half, more as skill grows.

At most half and fading in: Winstein & Schmidt 1990; Aoyagi 2019. The steps are our choice.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import pytest
from musclewood.profiles.journal.history import PastRep, PastSession
from musclewood.profiles.orders.exercises import AnyExercise
from musclewood.profiles.plan.unseen import unseen_share


def past(seen: tuple[int, int], unseen: tuple[int, int] = (0, 0)) -> PastSession:
    """One session: (made, missed) of each."""
    reps = [
        PastRep("a", verdict, 40.0, 5.0, flag)
        for (made, missed), flag in ((seen, False), (unseen, True))
        for verdict in ["counted"] * made + ["short"] * missed
    ]
    return PastSession(1, cast(Any, None), None, {"a": seen[0]}, {"a": len(reps)}, reps=tuple(reps))


def share(ordered: str, *sessions: PastSession) -> float:
    return unseen_share(cast(AnyExercise, SimpleNamespace(id="a", door_closed=ordered)), sessions)


@pytest.mark.parametrize("ordered", ["never", "by skill", "quarter", "half"])
def test_never_in_the_first_two_sessions(ordered: str) -> None:
    assert share(ordered) == share(ordered, past((10, 0))) == 0.0


def test_as_ordered_from_then_on() -> None:
    two = (past((2, 8)), past((2, 8)))
    assert [share(ordered, *two) for ordered in ("never", "quarter", "half")] == [0.0, 0.25, 0.5]


def test_by_skill_it_grows_and_falls() -> None:
    able = past((9, 1))
    assert share("by skill", able, able) == 0.25
    assert share("by skill", able, past((7, 1), (3, 1))) == 0.5
    assert share("by skill", able, past((7, 1), (1, 3))) == 0.25
    assert share("by skill", able, past((3, 7))) == 0.0
