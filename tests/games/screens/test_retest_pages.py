"""A test that is due, from the village and back, by each device; stop and 'it hurts' in reach all the way."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import pytest
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.screens.setup.retest import RetestOverPage, RetestPage
from musclewood.games.screens.village.today import TodayPage
from musclewood.profiles.journal.history import read_history
from musclewood.profiles.journal.records import RatingRecord
from musclewood.profiles.orders.tables import Retest

from tests.games.screens.test_whole_session import by_controller, by_keyboard, by_pointer, read_cautions

Choose = Callable[..., None]
DUE = Retest(test="maximum", every_weeks=4, first=date(2026, 11, 24))


def into_test(launcher: Any, choose: Choose) -> RetestPage:
    choose(launcher, "begin")
    read_cautions(launcher, choose)
    choose(launcher, "ble")
    page = launcher.app.top
    assert isinstance(page, RetestPage)
    return page


def until(launcher: Any, page: RetestPage, doing: str) -> None:
    for _ in range(400):
        if page.retest.shown.doing == doing or launcher.app.top is not page:
            return
        launcher.run(0.25)


@pytest.mark.parametrize("choose", [by_keyboard, by_pointer, by_controller])
def test_it_is_led_from_the_village_and_back_and_kept(launcher: Callable[..., Any], choose: Choose) -> None:
    one = launcher(retest=DUE)
    page = into_test(one, choose)
    choose(one, "go on")
    choose(one, "0")
    until(one, page, "pain")
    choose(one, "1")
    assert isinstance(one.app.top, RetestOverPage) and one.app.top.ending == "complete"
    choose(one, "home")
    assert isinstance(one.app.top, TodayPage) and one.day.retest is None
    history = read_history(one.journal)
    begun, found = (record for _, record in history.tests)
    assert not begun.trials_uv and found.trials_uv and (found.role, found.way) == ("involved", "one side")
    assert [rating.value for rating in one.journal.all_records(1) if isinstance(rating, RatingRecord)] == [0, 1]
    assert one.day.plan.exercises  # the exercises of the day still wait


def test_stop_halts_first_and_what_hurts_is_asked_at_once(launcher: Callable[..., Any]) -> None:
    one = launcher(retest=DUE)
    page = into_test(one, by_keyboard)
    by_keyboard(one, "go on")
    by_keyboard(one, "0")
    until(one, page, "quiet")
    one.app.answer(Intent(Act.STOP))
    left_s = page.retest.shown.left_s
    one.run(2.0)
    assert page.halted is not None and page.retest.shown.left_s == left_s  # nothing counts meanwhile
    by_pointer(one, "go-on")
    assert page.halted is None and page.retest.shown.doing == "quiet"
    one.app.answer(Intent(Act.HURTS))
    assert page.retest.shown.doing == "pain"
    by_keyboard(one, "9")
    assert isinstance(one.app.top, RetestOverPage) and one.app.top.ending == "pain"
    assert one.day.retest is None and not one.day.plan.exercises  # neither test nor exercises after pain


def test_stopping_ends_it_and_closing_the_window_leaves_nothing_open(launcher: Callable[..., Any]) -> None:
    one = launcher(retest=DUE)
    page = into_test(one, by_keyboard)
    by_pointer(one, "stop")
    by_pointer(one, "end")
    assert isinstance(one.app.top, RetestOverPage) and page.retest.ending == "stopped"
    by_keyboard(one, "home")
    assert one.day.retest is not None  # once more today is allowed
    by_keyboard(one, "begin")
    read = [one.app.top]
    assert read
    by_keyboard(one, "ble")
    one.app.close()
    ends = [session.end.ending for session in one.journal.sessions() if session.end]
    assert ends == ["stopped", "stopped"]


def test_it_may_wait_for_another_day(launcher: Callable[..., Any]) -> None:
    one = launcher(retest=DUE)
    by_keyboard(one, "not-now")
    by_keyboard(one, "begin")
    assert not one.day.testing and not isinstance(one.app.top, RetestPage)
