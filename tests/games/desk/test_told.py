"""What is said on the desk, in both languages: faults, changes, weeks, what is in sight."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from musclewood.assets.saying import catalogue
from musclewood.games.desk.base.charts import nice_top
from musclewood.games.desk.base.office import ago, told
from musclewood.games.desk.base.scrolling import count_shown, first_shown
from musclewood.games.desk.form.changes import changes
from musclewood.games.desk.form.faults_told import told_fault
from musclewood.games.desk.form.model import FormModel
from musclewood.games.desk.pages.weeks import kept_by_week
from musclewood.games.gallery import desk_made_up as made_up
from musclewood.games.kit.words import LANGUAGES, Words
from musclewood.profiles.caseload.attention import Attention
from musclewood.profiles.journal.ledger import Ledger

CHANGES: tuple[tuple[str, str], ...] = (
    ("exercises.0.reps", "900"),
    ("exercises.0.reps", "many"),
    ("exercises.0.reps", ""),
    ("exercises.0.hold_s", "x"),
    ("exercises.0.effort.target_pct_mvc", "90"),
    ("exercises.0.effort.min_pct_mvc", "60"),
    ("exercises.0.effort.max_pct_mvc", "119"),
    ("exercises.0.effort.tolerance_pct_mvc", "35"),
    ("exercises.0.scaling.tolerance_max_pct_mvc", "2"),
    ("exercises.0.scaling.rest_max_s", "1"),
    ("stop.pain_lighten", "9"),
    ("ceilings.reps_per_day", "2"),
    ("ceilings.minutes_per_day", "1"),
    ("review", "2020-01-01"),
    ("review", "soon"),
    ("days", ""),
    ("muscles.1.channel", "0"),
    ("sessions_per_day", "2.5"),
)


@pytest.mark.parametrize(("path", "text"), CHANGES)
def test_usual_faults_are_told_in_german_without_english_words(path: str, text: str) -> None:
    words = Words("de")
    model = FormModel(made_up.office().clinic.draft_from_last("HB-0104", made_up.TODAY))
    model.set(path, text)
    assert model.faults()
    for fault in model.faults():
        field = next((one for one in model.fields() if one.key_path == fault.key_path), None)
        sentence = told_fault(words, fault, field).lower()
        for english in ("allowed", "use ", "give", "choose", "order less", "add it", " is ", "list "):
            assert english not in sentence, sentence


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_reason_for_attention_can_be_said(language: str) -> None:
    words = Words(language)
    figures: dict[str, str | int] = {"value": 5, "level": 4, "before": 1, "day": "2026-11-20", "days": 8,
        "exercise": "Hold",
                                     "percent": 30, "times": 2, "count": 1, "reason": "it is cut short."}  # fmt: skip
    for key in (one.removeprefix("desk.attention.") for one in catalogue("en") if one.startswith("desk.attention.")):
        sentence = told(words, Attention(1, key, figures))
        assert "{" not in sentence and sentence.endswith(".")


def test_changes_are_said_in_german_field_by_field() -> None:
    model = FormModel(made_up.office().clinic.draft_from_last("HB-0104", made_up.TODAY))
    assert changes(Words("de"), model)
    model.set("exercises.0.reps", "9")
    model.toggle_day("sun")
    model.remove_exercise(2)
    model.add_exercise("hold")
    lines = " ".join(changes(Words("de"), model))
    for part in ("Wiederholungen je Satz: 9 statt 8", "Tage: Mo", "Neu: ", "Entfällt: Follow the slow wave"):
        assert part in lines, lines


def test_ago() -> None:
    words, today = Words("en"), date(2026, 11, 25)
    assert ago(words, today, today) == "today"
    assert ago(words, date(2026, 11, 24), today) == "yesterday"
    assert ago(words, date(2026, 11, 1), today) == "24 days ago"
    assert ago(words, None, today) == "nothing yet"
    assert ago(words, date(2026, 12, 1), today) == "2026-12-01"


def test_no_desk_sentence_shouts_or_blames() -> None:
    for language in LANGUAGES:
        said = {key: text for key, text in catalogue(language).items() if key.startswith("desk.")}
        assert not [key for key, text in said.items() if "!" in text]
        assert not [key for key, text in said.items() if "invalid" in text.lower() or "error" in text.lower()]


@given(st.floats(0, 1e5))
def test_the_scale_of_a_drawing_holds_every_value(value: float) -> None:
    assert nice_top(value) >= value
    assert nice_top(value) <= max(10 * value, 10.0)


@given(
    heights=st.lists(st.floats(20, 120), min_size=1, max_size=60),
    room=st.floats(130, 500),
    first=st.integers(-3, 70),
    place=st.floats(0, 1),
)
def test_what_is_in_focus_is_always_in_sight(heights: list[float], room: float, first: int, place: float) -> None:
    focus = min(len(heights) - 1, int(place * len(heights)))
    start = first_shown(heights, room, first, focus)
    assert start <= focus < start + count_shown(heights, room, start)
    assert first_shown(heights, room, start, focus) == start  # what lies still stays


def test_weeks_before_the_first_order_are_left_out() -> None:
    order = made_up.office().clinic.orders("HB-0104")[0]
    found = kept_by_week([order], Ledger(()), date(2026, 11, 25))
    assert len(found) == 5 and found[-1] == 0.0
    assert kept_by_week([], Ledger(()), date(2026, 11, 25)) == []
