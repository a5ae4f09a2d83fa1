"""How an evening went: every attempt of the journal and nothing else, and beside the days before only what is so."""

from __future__ import annotations

import statistics
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any, cast

import pytest
from musclewood.games.engine.how_it_went import Evenings, Work
from musclewood.games.engine.rep_events import JudgedRep, RepMade
from musclewood.games.engine.shelf import product_of, shelf_of
from musclewood.games.engine.stages import rep_record
from musclewood.games.gallery.attempts import an_evening
from musclewood.games.gallery.gallery import a_day, states
from musclewood.games.gallery.made_up import judged
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.words import LANGUAGES
from musclewood.games.screens.base.how_it_went import HowItWentPage, summary
from musclewood.games.screens.base.page import Back, Page, Push, Surroundings
from musclewood.games.screens.base.shelf import ShelfPage
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import SessionEnd, SessionStart
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.dose import planned

NOON = datetime(2026, 6, 1, 12, tzinfo=UTC)


def kept(journal: Journal, order: Prescription, day: int, reps: Sequence[JudgedRep], **start: Any) -> None:
    """One evening in the journal."""
    exercise = planned(order, order.exercises[0])
    values = {"patient": order.patient, "revision": order.revision, "source": "ble", **start}
    session = journal.begin_session(
        SessionStart(started_at=(NOON + timedelta(days=day)).isoformat(), **cast(Any, values))
    )
    for rep in reps:
        journal.add(session, rep_record(RepMade(rep), exercise, "kiln"))
    journal.end_session(session, SessionEnd(60.0, "complete"))


def reps(steadiness: float, number: int = 5) -> list[JudgedRep]:
    return [replace(judged(n), steadiness=steadiness + 0.01 * (n - 2)) for n in range(number)]


@pytest.fixture
def journal(tmp_path: Path) -> Any:
    with Journal.open(tmp_path / "journal.sqlite", clock=lambda: NOON) as opened:
        yield opened


def test_every_attempt_of_an_evening_is_there_and_its_things_are_those_of_the_shelf(
    journal: Journal, order: Callable[..., Prescription]
) -> None:
    ordered = order()
    first, second = reps(0.9), reps(0.8, 3)
    missed = replace(judged(3), verdict="over", peak_pct_mvc=60.0)
    kept(journal, ordered, 0, first)
    kept(journal, ordered, 1, [])
    kept(journal, ordered, 2, [*second, missed])
    kept(journal, ordered, 3, first, source="keyboard")
    evenings = Evenings(journal, ordered)
    assert [one.day for one in evenings] == [date(2026, 6, 3), date(2026, 6, 1)], "the latest first, none without a try"
    (work,) = evenings[0].works
    assert [one.code for one in work.results] == ["good", "good", "good", "over"]
    assert (work.made, len(work.results), work.compared) == (3, 4, "first")
    assert work.figure == pytest.approx(statistics.median(rep.steadiness for rep in second))
    assert len(Evenings(journal, ordered, practice=True)) == 1
    page = HowItWentPage(cast(Any, None), evenings, shelf_of(journal, ordered.timezone))
    things = [page._product(work, one) for one in work.results]
    assert [one and one.figures["place"] for one in things] == [5.0, 6.0, 7.0, None]
    made = [product_of(rep, "kiln", date(2026, 6, 1), place) for place, rep in enumerate(first)]
    stand = [(one.seed, one.made_on, one.figures, one.profile) for one in shelf_of(journal, ordered.timezone)]
    assert stand[:5] == [(one.seed, one.made_on, one.figures, one.profile) for one in made], "read late, and no other"


@pytest.mark.parametrize(("now", "said"), [(0.95, "more"), (0.9, "alike"), (0.7, "less")])
def test_what_is_said_of_a_day_is_so(
    now: float, said: str, journal: Journal, order: Callable[..., Prescription]
) -> None:
    """More or less than two thirds of the days before, of which there must be three."""
    ordered = order()
    for day, usual in enumerate((0.91, 0.88, 0.9, 0.92)):
        kept(journal, ordered, day, reps(usual))
    assert Evenings(journal, ordered)[1].works[0].compared == "first", "two days are too few to compare with"
    kept(journal, ordered, 5, reps(now))
    assert Evenings(journal, ordered)[0].works[0].compared == said


def test_of_an_earlier_order_nothing_is_said_that_only_the_one_in_force_knows(
    journal: Journal, order: Callable[..., Prescription]
) -> None:
    ordered = order()
    short = replace(judged(1), verdict="short", in_band_s=1.0)
    kept(journal, ordered, 0, [short], revision=ordered.revision + 1)
    kept(journal, ordered, 1, [short])
    now, then = (one.works[0].results[0] for one in Evenings(journal, ordered))
    assert now.figure == "held" and now.code == then.code == "short"
    assert then.figure == "" and (then.low, then.high) == (now.low, now.high)


def test_a_stir_in_the_rest_is_told_as_one(journal: Journal, order: Callable[..., Prescription]) -> None:
    ordered = order()
    stirred = replace(judged(1), verdict="not relaxed", onset_s=judged(0).offset_s + 1.0)
    kept(journal, ordered, 0, [judged(0), stirred])
    assert [one.code for one in Evenings(journal, ordered)[0].works[0].results] == ["good", "rest"]


@pytest.mark.parametrize("language", LANGUAGES)
def test_it_is_said_in_plain_words(language: str) -> None:
    """At most eight words a sentence, of every kind of figure and every comparison; a word that is missing raises
    KeyError."""
    theme = Theme(Settings(language=language))
    for kind in ("hold", "quick", "relax"):
        for figures in ((), (1.0,) * 3, (-9.0,) * 3, (9.0,) * 3):
            work = Work(kind, "kiln", "", an_evening().works[0].results, 0.9 if kind != "relax" else -2.0, figures)
            for told in summary(theme, work):
                assert all(1 <= len(part.split()) <= 8 for part in told.rstrip(".").split(". ")), told


def pressed(page: Page, canvas: Canvas, key: str) -> Any:
    page.lay_out(canvas)
    box = next(widget.box for widget in page.choices() if widget.key == key)
    page.time_s = page._in_sight_s = 60.0
    return page.handle(Intent(Act.PRESS, "pointer", box.centre))


def test_it_is_opened_from_the_end_of_a_session_and_from_the_shelf_and_closed_again(
    around: Callable[..., Surroundings], canvas: Callable[..., Canvas]
) -> None:
    day = a_day()
    day.evenings = lambda practice: [an_evening()]
    target, wrapped = canvas(1280, 720), states()["wrap-up"](around())
    cast(Any, wrapped).day = day
    shelf = ShelfPage(around(), day.shelf, lambda: day.evenings(False))
    for page in (wrapped, shelf):
        opened = pressed(page, target, "went")
        assert isinstance(opened, Push) and isinstance(opened.page, HowItWentPage)
        assert isinstance(pressed(opened.page, target, "back"), Back)


def test_looking_at_an_attempt_tells_of_it_and_turning_pages_comes_round(
    around: Callable[..., Surroundings], canvas: Callable[..., Canvas]
) -> None:
    target = canvas(1280, 720)
    page = HowItWentPage(around(), [an_evening(), an_evening()])

    def told() -> str:
        return " ".join(" ".join(widget.lines) for widget in page.lay_out(target))

    assert "6 of 10 counted" in told() and "too hot" not in told()
    pressed(page, target, "rep:2")
    assert "too hot" in told() and "18 % too much" in told()
    for _ in page.leaves:
        pressed(page, target, "part")
    assert page.leaf == 0
    pressed(page, target, "earlier")
    assert page.number == 1 and "later" in {widget.key for widget in page.lay_out(target)}
