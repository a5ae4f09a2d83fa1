"""The village's wishes on screen: seen by whoever wants them, and nothing to answer or to wait for beside a plain
evening."""

from __future__ import annotations

from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any, cast

import pygame
import pytest
from musclewood.games.engine.endings import Outcome
from musclewood.games.gallery.gallery import a_day
from musclewood.games.gallery.made_up import PLAN, weeks_of_work
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.words import Words
from musclewood.games.screens.base.page import Page, Surroundings
from musclewood.games.screens.base.scenery import Backdrops
from musclewood.games.screens.session.wrap_up import WrapUpPage
from musclewood.games.screens.village.settings import changed
from musclewood.games.screens.village.today import TodayPage
from musclewood.profiles.plan.dose import DayPlan
from musclewood.profiles.plan.reasons import Reason

SIZE = (320, 180)


@pytest.fixture
def canvas() -> Iterator[Canvas]:
    pygame.display.init()
    yield Canvas(pygame.display.set_mode(SIZE))
    pygame.display.quit()


def around(plain: bool) -> Surroundings:
    return Surroundings(Theme(Settings(plain_evening=plain)), Backdrops(SIZE, at_once=True))


def today(plain: bool) -> TodayPage:
    return TodayPage(around(plain), a_day(PLAN, weeks=5))


def wrapped_up(plain: bool, why: str = "done") -> WrapUpPage:
    made = [one for one in weeks_of_work(5) if one.made_on == weeks_of_work(5)[-1].made_on]
    view = SimpleNamespace(ending="complete", outcome=Outcome(cast(Any, why)), made=5, ordered=5)
    play = SimpleNamespace(view=view, made=made, practice=False, tried=True, battery_low=False)
    return WrapUpPage(around(plain), a_day(PLAN, weeks=5), cast(Any, play))


def said(page: Page, canvas: Canvas) -> str:
    """All that can be read, by whatever lines it is set in."""
    return " | ".join(str(widget.lines) for widget in page.lay_out(canvas))


def wishes_in(page: Page) -> int:
    return sum("wish-" in str(layer) for layer in page.scene.layers)


@pytest.mark.parametrize("page", [today, wrapped_up])
def test_a_plain_evening_shows_and_says_nothing_of_it_and_asks_for_the_same(page: Any, canvas: Canvas) -> None:
    with_wishes, plain = page(False), page(True)
    assert wishes_in(with_wishes) == 15 and wishes_in(plain) == 0
    assert said(with_wishes, canvas) != said(plain, canvas)
    assert [one.key for one in with_wishes.choices()] == [one.key for one in plain.choices()]


def test_the_village_answers_to_a_whole_session_only(canvas: Canvas) -> None:
    told = wrapped_up(False)._answered()
    assert told[0] == wrapped_up(False).theme.words("village.flowers.thanks")
    assert wrapped_up(False, "patient")._answered() == []


def test_adults_may_choose_a_plain_evening_and_take_it_back() -> None:
    once = changed(Settings(), "village")
    assert once.plain_evening and not changed(once, "village").plain_evening


@pytest.mark.parametrize(
    ("why", "restful"),
    [(Reason.REST_DAY, True), (Reason.DONE, True), (Reason.PAIN, False), (Reason.CLOCK_BEHIND, False)],
)
def test_only_a_rest_well_earned_is_praised(why: Reason, restful: bool, canvas: Canvas) -> None:
    """After pain, or with a clock that is wrong, nobody is told that muscles grow now."""
    page = TodayPage(around(True), a_day(DayPlan(PLAN.day, (), (why,))))
    assert ("Muscles grow" in said(page, canvas).replace("', '", " ")) is restful


def test_what_is_said_after_pain_does_not_claim_that_it_ended_anything() -> None:
    """The same sentence stands where pain was answered after everything had been done."""
    told = Words()(f"reasons.{Reason.PAIN}")
    assert "ended" not in told and "call your therapist" in told
