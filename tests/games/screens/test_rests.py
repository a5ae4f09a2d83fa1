"""Rests worth having: a breath to follow, the village, what comes next; and the next workshop painted meanwhile.

Six breaths a minute, the longer half out: common practice, no source.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest
from musclewood.games.gallery.gallery import _still, a_day, states
from musclewood.games.gallery.made_up import PLAN
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.words import Words
from musclewood.games.screens.base.page import Surroundings
from musclewood.games.screens.base.play import Play
from musclewood.games.screens.base.scenery import Backdrops
from musclewood.games.screens.base.scenes import POOL
from musclewood.games.screens.session.ahead import Pictures
from musclewood.games.screens.session.between import BreakPage
from musclewood.games.screens.session.lily import FIRST_S, breath
from musclewood.games.screens.session.session import SessionPage
from musclewood.games.screens.session.workshop import WorkPage

SMALL = (160, 90)


def test_the_lily_breathes_six_times_a_minute_and_longer_out_than_in() -> None:
    ticks = [breath(FIRST_S + tick / 100) for tick in range(6000)]
    inward = [one for _, one in ticks]
    assert sum(now and not before for before, now in zip([False, *inward], inward, strict=False)) == 6
    assert 0.35 < sum(inward) / len(inward) < 0.45
    assert max(abs(a - b) for (a, _), (b, _) in zip(ticks[1:], ticks, strict=False)) < 0.01, "never a jump"
    assert {round(opened) for opened, _ in ticks} == {0, 1}


def resting(around: Surroundings, left_s: float, of_s: float, **changes: Any) -> BreakPage:
    play = _still("break", left_s=of_s, **changes)
    page = BreakPage(around, play, a_day())
    play.view = replace(play.view, left_s=left_s)
    page.update(0.0)
    return page


def test_a_break_is_for_breathing_then_for_the_village_and_says_what_comes_next(
    around: Callable[..., Surroundings], canvas: Callable[..., Canvas]
) -> None:
    words, target = Words(), canvas(*SMALL)
    assert resting(around(size=SMALL), 50.0, 60.0).scene == POOL
    assert resting(around(size=SMALL), 20.0, 60.0).scene != POOL
    assert resting(around(size=SMALL), 9.0, 10.0).scene != POOL, "too short for both"
    told = " ".join(" ".join(one.lines) for one in resting(around(size=SMALL), 50.0, 60.0).lay_out(target))
    assert words("frame.next", place=words("place.kiln")) in told and words.count("today.count", PLAN.reps) in told
    several = replace(PLAN.exercises[0], workshops=("kiln", "ropewalk"))
    told = " ".join(
        " ".join(one.lines) for one in resting(around(size=SMALL), 50.0, 60.0, exercise=several).lay_out(target)
    )
    assert words("place.kiln") not in told, "it is still to be chosen"


def waited_for(ready: Callable[[], bool], limit_s: float = 20.0) -> bool:
    end = time.monotonic() + limit_s
    while not ready() and time.monotonic() < end:
        time.sleep(0.02)
    return ready()


@pytest.fixture
def painting() -> Any:
    surroundings = Surroundings(Theme(Settings()), Backdrops(SMALL))
    yield surroundings
    surroundings.backdrops.close()


def test_a_workshop_is_painted_ahead_only_while_the_eye_is_free(painting: Surroundings, canvas: Any) -> None:
    target, pictures = canvas(*SMALL), Pictures(painting)
    pictures.ahead(("kiln", "smithy"), target, free=False)
    time.sleep(0.3)
    assert not pictures.ready("kiln", target)
    pictures.ahead(("kiln", "smithy"), target, free=True)
    assert waited_for(lambda: pictures.ready("kiln", target)) and not pictures.ready("smithy", target)
    pictures.ahead(("kiln", "smithy"), target, free=True)
    assert waited_for(lambda: pictures.ready("smithy", target)), "one after the other"
    pictures.keep(("smithy",))
    assert pictures.ready("smithy", target) and not pictures.ready("kiln", target)


def test_it_opens_with_its_picture_after_a_rest_and_never_on_an_empty_sky(painting: Surroundings, canvas: Any) -> None:
    target, playing = canvas(*SMALL), cast(WorkPage, states()["work-kiln-start"](painting)).play
    waiting = _still("break", left_s=20.0)
    stands_for = {"ending": False, "practice": True, "asked": "", "muscle_chooses": False}
    page = SessionPage(painting, a_day(), cast(Play, SimpleNamespace(view=waiting.view, made=[], **stands_for)))
    page.draw(target)
    assert waited_for(lambda: page._pictures.ready("kiln", target))
    for name in ("view", "rep", "rules", "teacher"):
        setattr(page.play, name, getattr(playing, name))
    page._follow()
    page.draw(target)
    assert isinstance(page.inner, WorkPage) and page.inner.picture_ready
    assert WorkPage(painting, playing).scene == POOL
