"""Twelve weeks in the village: something new for every session, nothing lost, nothing said that is not so."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from datetime import date, timedelta

import pytest
from musclewood.games.engine.shelf import Product, product_of
from musclewood.games.engine.wishes import STEPS, WISHES, Reckoning, Standing, noticed, on_the_table, standing
from musclewood.games.gallery.made_up import judged
from musclewood.games.kit.deliberate import reading_s
from musclewood.games.kit.paper import art_text
from musclewood.games.kit.words import LANGUAGES, Words
from musclewood.games.screens.base.scenes import GUESTS, guest_of, season_of, village

MONDAY, WEEKS, REPS = date(2026, 3, 2), 12, 8
KINDS = {"kiln": "hold", "smithy": "quick", "hide": "relax"}
USUAL_SESSION_S = 12 * 60.0  # of a child: two exercises of eight repetitions with their rests; our choice, a short one


def thing(day: date, number: int, workshop: str = "kiln", **changes: float) -> Product:
    product = product_of(replace(judged(number), **changes), workshop, day, number)
    return replace(product, seed=product.seed + day.toordinal())


def child(days: tuple[int, ...], weeks: int = WEEKS) -> list[list[Product]]:
    """The shelf after each session of a child who comes on these days of the week."""
    shelf, after, chance = [], [], random.Random(3)
    for week in range(weeks):
        for day in days:
            made = [thing(MONDAY + timedelta(days=7 * week + day), n) for n in range(chance.randint(3, REPS))]
            shelf = [*shelf, *made]
            after.append(shelf)
    return after


def seen(shelf: list[Product], week: int) -> tuple[object, ...]:
    """What stands in the village that week, down to the things on the table."""
    return season_of(week), standing(shelf).built, tuple(one.seed for one in on_the_table(shelf))


@pytest.mark.parametrize("days", [(0, 2, 4), (0, 1, 3, 5), (0, 1, 2, 3, 4), (0, 1, 2, 3, 4, 5, 6)])
def test_no_two_weeks_show_the_same_village_and_every_session_brings_something(days: tuple[int, ...]) -> None:
    after = child(days)
    weeks = [after[len(days) * (week + 1) - 1] for week in range(WEEKS)]
    stands = [standing(shelf).built for shelf in weeks]
    assert len(set(stands)) == WEEKS, "what was built alone tells the weeks apart"
    assert len({seen(shelf, week) for week, shelf in enumerate(weeks)}) == WEEKS
    before: tuple[object, ...] = ()
    for number, shelf in enumerate(after):
        now, stand = seen(shelf, 0), standing(shelf)
        assert now != before
        print(f"session {number + 1}: " + (stand.letter or f"table {[one.workshop for one in on_the_table(shelf)]}"))
        before = now
    assert standing(after[-1]).steps == STEPS * len(WISHES) and standing(after[-1]).asked is None


def test_without_wishes_the_calendar_alone_tells_the_weeks_apart() -> None:
    """For whoever chose plain evenings; it moves whether somebody came or not."""
    weeks = {village("dusk", (), season_of(week), (), guest_of(week)) for week in range(2 * WEEKS)}
    assert len(weeks) == 2 * WEEKS
    assert all(art_text(f"village/guest-{guest}.svg") for guest in range(1, GUESTS + 1))


def test_nothing_is_ever_taken_back_and_a_break_costs_nothing() -> None:
    after = child((0, 2, 4))
    assert all(set(standing(a).built) < set(standing(b).built) for a, b in itertools.pairwise(after))
    paused = [
        replace(one, made_on=one.made_on + timedelta(days=35 * (one.made_on > MONDAY + timedelta(days=20))))
        for one in after[-1]
    ]
    assert standing(paused) == standing(after[-1])


def test_who_made_less_is_told_the_same() -> None:
    one = [thing(MONDAY + timedelta(days=2 * n), n) for n in range(3)]
    many = [thing(MONDAY + timedelta(days=2 * n), m) for n in range(3) for m in range(REPS)]
    assert standing(one) == standing(many)


def test_nothing_made_nothing_said() -> None:
    assert standing([]) == Standing() and Standing().letter is None and Standing().asked == WISHES[0]
    assert noticed([], KINDS) is None and on_the_table([]) == ()


@pytest.mark.parametrize(
    ("workshop", "figure", "better", "progress"),
    [
        ("kiln", "steadiness", 0.97, "steadier"),
        ("smithy", "rise_pct_mvc_per_s", 200.0, "brisker"),
        ("hide", "mean_pct_mvc", 1.0, "quieter"),
    ],
)
def test_a_maker_notices_what_is_so_and_nothing_else(workshop: str, figure: str, better: float, progress: str) -> None:
    usual = {"steadiness": 0.9, "rise_pct_mvc_per_s": 90.0, "mean_pct_mvc": 4.0}
    days = [MONDAY + timedelta(days=2 * n) for n in range(5)]
    before = [thing(day, n, workshop, **usual) for day in days[:4] for n in range(4)]
    today = [thing(days[4], n, workshop, **{**usual, figure: better}) for n in range(4)]
    assert noticed([*before, *today], KINDS) == (workshop, progress)
    assert noticed([*before, *[thing(days[4], n, workshop, **usual) for n in range(4)]], KINDS) is None
    assert noticed([*before[:8], *today], KINDS) is None, "two days are too few to compare with"
    alone = [thing(days[4], 9, workshop, **{**usual, figure: better})]
    dull = [thing(days[4], n, workshop, **usual) for n in range(3)]
    assert noticed([*before, *dull, *alone], KINDS) is None, "one good thing does not make a day"


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_wish_has_its_words_and_its_pictures(language: str) -> None:
    words = Words(language)
    for wish in WISHES:
        assert all(words.has(f"village.{wish}.{part}") for part in ("ask", "begun", "half", "thanks"))
    assert all(words.has(f"village.{one}") for one in ("complete", "steadier", "brisker", "quieter"))
    layers = village("dusk", (), "spring", standing(child((0, 2, 4))[-1]).built).layers
    assert sum("wish-" in str(layer) for layer in layers) == STEPS * len(WISHES)


@pytest.mark.parametrize("language", LANGUAGES)
def test_reading_it_costs_less_than_a_fiftieth_of_a_session(language: str) -> None:
    """It lies on pages that are there anyway and waits for nothing: all that it can cost is to be read."""
    words = Words(language)
    longest = [
        max((words(f"village.{wish}.{part}") for wish in WISHES for part in parts), key=len)
        for parts in (("ask",), ("begun", "half", "thanks"))
    ]
    longest.append(max((words(f"village.{one}") for one in ("steadier", "brisker", "quieter")), key=len))
    read_s = sum(reading_s(len(told.split())) for told in longest)
    print(f"{language}: at most {read_s:.1f} s of reading, {100 * read_s / USUAL_SESSION_S:.2f} % of a session")
    assert read_s < 0.02 * USUAL_SESSION_S


def test_what_is_reckoned_once_follows_a_shelf_that_grows() -> None:
    """In place, as the launcher's shelf does, and as a new list, as in a break."""
    reckoning, shelf = Reckoning(), list[Product]()
    for after in child((0, 2, 4), weeks=3):
        shelf.extend(after[len(shelf) :])
        for grown in (shelf, after):
            assert reckoning.of(grown) == (standing(after), on_the_table(after))
