"""Knowledge of results: what is told after an attempt is what the muscle did, and three alike bring help.

That less is told as skill grows: Winstein & Schmidt 1990; Aoyagi 2019. How fast, and after how many there is help: our
choice.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from musclewood.games.engine.kinds import OF_KIND
from musclewood.games.engine.rep_events import EffortStarted, Reading, RepMade, RepMissed
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.results import result_of
from musclewood.games.engine.teacher import Teacher
from musclewood.games.gallery.attempts import codes_of, told_of
from musclewood.games.gallery.evenings import OF_EACH_KIND
from musclewood.games.kit.words import LANGUAGES, Words
from musclewood.games.screens.base.told import told_in
from musclewood.games.workshops import fitting
from musclewood.profiles.plan.dose import PlannedExercise

TICK_S = 0.02
EACH = [(kind, code) for kind in OF_KIND for code in codes_of(kind)]


def played(exercise: PlannedExercise, levels: list[float], seconds: float) -> tuple[Teacher, list[object]]:
    """One effort after the other at these levels (of the reference), let go after three seconds each."""
    engine, teacher, told, number = RepEngine(exercise, TICK_S), Teacher(exercise), [], 0
    for _ in range(round(seconds / TICK_S)):
        view = engine.view
        working = view.phase in ("ready", "effort") and view.effort_s < 3.0
        level = levels[min(number, len(levels) - 1)] if working else 0.0
        events = engine.step(Reading((level,), (level > 0.06,)))
        teacher.hear(events)
        for event in events:
            if isinstance(event, RepMade | RepMissed):
                number += 1
                told.append((teacher.told, teacher.help))
    return teacher, told


def hold(**changes: object) -> PlannedExercise:
    return replace(OF_EACH_KIND["hold"], **{"sets": 1, "reps": 11, "rest_s": 1.0, "hold_s": 2.0, **changes})


@pytest.mark.parametrize(("kind", "code"), EACH)
def test_every_kind_and_verdict_is_told_in_every_workshop_and_language(kind: str, code: str) -> None:
    """In at most eight words a sentence; a catalogue that lacks one raises KeyError."""
    teacher, _ = told_of(kind, code)
    assert teacher.told is not None and teacher.told.code == code
    for language in LANGUAGES:
        for workshop in fitting(kind):
            for sentence in told_in(Words(language), workshop, teacher.told, teacher.help):
                for part in sentence.rstrip(".").split(". "):
                    assert 1 <= len(part.split()) <= 8, sentence
            told = told_in(Words(language), workshop, teacher.told, teacher.help)
            assert len(told) >= (1 if code == "good" else 2), "what happened, and what to do next time"


def test_every_workshop_tells_in_words_of_its_own() -> None:
    words = Words()
    for kind, specified in OF_KIND.items():
        for code in specified.told:
            said = [words(f"result.{workshop}.{code}") for workshop in fitting(kind)]
            assert len(set(said)) == len(said), f"{kind}, {code}"


@pytest.mark.parametrize("kind", list(OF_KIND))
def test_what_is_told_is_what_the_muscle_did(kind: str) -> None:
    """Against the attempt itself: its seconds, its height, its side."""
    for code in codes_of(kind):
        told = told_of(kind, code)[0].told
        assert told is not None
        rep, values = told.rep, told.values
        match told.figure:
            case "held":
                assert values["held"] == pytest.approx(rep.in_band_s, abs=0.06) and values["asked"] == told.hold_s
            case "below":
                assert rep.peak_pct_mvc == pytest.approx((100 - values["share"]) * told.low, rel=0.02)
            case "above":
                assert rep.peak_pct_mvc == pytest.approx((100 + values["share"]) * told.high, rel=0.02)
        if code == "good":
            assert rep.verdict == "counted" and told.share == 1.0
        else:
            assert rep.verdict != "counted" and told.share < 1.0
        if code == "absent":
            assert rep.peak_pct_mvc <= 5.0


def test_twenty_two_attempts_over_get_help_after_the_third_and_a_call_after_the_sixth() -> None:
    """Asked for all of the maximum where a stronger muscle answers each time; the worst that was seen."""
    exercise = hold(reps=20, target_pct_mvc=90.0, tolerance_pct_mvc=5.0, ceiling_pct_mvc=100.0)
    _, told = played(exercise, [1.1], 160.0)
    assert len(told) >= 22
    assert all(result is not None and result.code == "over" for result, _ in told)
    assert [help_ for _, help_ in told[:7]] == ["", "", "shown", "shown", "shown", "therapist", "therapist"]


def test_of_unlike_sides_the_stronger_is_named() -> None:
    """The first channel is the left side here, and the second pulls less than it in this attempt."""
    told = told_of("paired", "unlike")[0].told
    assert told is not None and told.opposite is not None
    for sides in (("left", "right"), ("right", "left"), ()):
        again = result_of(told.rep, replace(OF_EACH_KIND["paired"], sides=sides))
        assert again.figure == (f"more-{sides[0]}" if sides else "")
    other = replace(told.rep, opposite_mean_pct_mvc=told.rep.mean_pct_mvc + 20)
    assert result_of(other, replace(OF_EACH_KIND["paired"], sides=("left", "right"))).figure == "more-right"


def test_one_that_is_counted_ends_what_was_alike() -> None:
    _, told = played(hold(), [0.2, 0.2, 0.4, 0.2, 0.2, 0.2], 60.0)
    assert [help_ for _, help_ in told[:6]] == ["", "", "", "", "", "shown"]


@pytest.mark.parametrize(
    ("results", "expected"),
    [("by skill", [1, 2, 3, 5, 8, 11]), ("half", [2, 4, 6, 8, 10]), ("always", list(range(1, 12)))],
)
def test_good_ones_are_told_of_less_as_skill_grows_unless_the_order_says_otherwise(
    results: str, expected: list[int]
) -> None:
    _, told = played(hold(results=results), [0.4], 80.0)
    assert len(told) == 11
    assert [number for number, (result, _) in enumerate(told, start=1) if result is not None] == expected


def test_a_miss_is_always_told_of_and_begins_the_fading_anew() -> None:
    _, told = played(hold(), [0.4] * 7 + [0.2] + [0.4] * 3, 80.0)
    assert [result is not None for result, _ in told[7:11]] == [True, True, True, True]


def test_what_was_told_stands_until_the_next_effort_begins() -> None:
    engine, teacher = RepEngine(hold(), TICK_S), Teacher(hold())
    seen = []
    for _ in range(round(9.0 / TICK_S)):
        level = 0.2 if engine.phase in ("ready", "effort") and engine.view.effort_s < 2.0 else 0.0
        events = engine.step(Reading((level,), (level > 0.06,)))
        teacher.hear(events)
        if any(isinstance(event, EffortStarted) for event in events):
            assert teacher.told is None
        seen.append((engine.phase, teacher.told is not None))
    assert ("rest", True) in seen and ("effort", True) not in seen
    assert ("rest", False) not in seen
