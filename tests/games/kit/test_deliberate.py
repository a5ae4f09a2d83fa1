"""Only deliberate acts are answers: what a contraction must be like, and what a hand's second press is not."""

from __future__ import annotations

import pytest
from musclewood.games.kit.controls import Act, Device, Intent
from musclewood.games.kit.deliberate import HAND_S, Asked, MuscleChooser, counts, reading_s

STEP_S = 0.02
ASKED = Asked("a question", 10)
READ_S = reading_s(10) + 0.1


def contract(chooser: MuscleChooser, seconds: float, tense: bool, asked: Asked = ASKED) -> list[Act]:
    return [intent.act for _ in range(round(seconds / STEP_S)) for intent in chooser.step(asked, tense, STEP_S)]


@pytest.fixture
def chooser() -> MuscleChooser:
    """Of somebody who has read the question at rest."""
    made = MuscleChooser()
    contract(made, READ_S, False)
    assert made.ready
    return made


def test_slow_readers_are_waited_for() -> None:
    """Most adults read 175 words a minute or more (Brysbaert 2019): seven words take 2.4 s."""
    assert reading_s(7) - reading_s(0) == pytest.approx(2.4)


def test_short_moves_on_long_chooses_when_let_go(chooser: MuscleChooser) -> None:
    assert contract(chooser, 0.4, True) + contract(chooser, 0.5, False) == [Act.NEXT]
    assert contract(chooser, 2.0, True) == []
    assert contract(chooser, 0.5, False) == [Act.CHOOSE]
    assert contract(chooser, 2.0, False) == []


def test_a_muscle_that_was_never_quiet_does_nothing() -> None:
    chooser = MuscleChooser()
    assert contract(chooser, 15.0, True) == []
    assert chooser.held_share == 0.0
    assert contract(chooser, 0.1, False) == []


def test_a_flicker_is_no_answer_and_a_cramp_is_none(chooser: MuscleChooser) -> None:
    assert contract(chooser, 0.1, True) + contract(chooser, 0.5, False) == []
    assert contract(chooser, 20.0, True) + contract(chooser, 0.5, False) == []
    assert contract(chooser, 2.0, True) + contract(chooser, 0.5, False) == [Act.CHOOSE]


def test_what_began_before_the_page_was_read_is_no_answer() -> None:
    chooser = MuscleChooser()
    contract(chooser, READ_S - 0.5, False)
    assert contract(chooser, 2.0, True) + contract(chooser, 0.5, False) == []


def test_another_question_is_read_anew_even_amid_a_contraction(chooser: MuscleChooser) -> None:
    contract(chooser, 1.0, True)
    other = Asked("another question", 10)
    assert contract(chooser, 1.0, True, other) + contract(chooser, 1.0, False, other) == []
    assert not chooser.ready


def test_nothing_shown_is_nothing_asked() -> None:
    chooser, unseen = MuscleChooser(), Asked("not drawn yet", None)
    assert contract(chooser, 30.0, False, unseen) + contract(chooser, 2.0, True, unseen) == []
    assert not chooser.ready


def test_held_share_fills_up(chooser: MuscleChooser) -> None:
    contract(chooser, 0.6, True)
    assert chooser.held_share == pytest.approx(0.5, abs=0.02)
    contract(chooser, 5.0, True)
    assert chooser.held_share == 0.0  # no answer any more, and it shows


def test_closed_to_muscles_is_open_to_hands() -> None:
    asked = Asked("stopped", 3, closed=frozenset({"go-on"}))
    assert not counts(Intent(Act.CHOOSE, "muscle"), asked, 60.0, "go-on")
    assert counts(Intent(Act.CHOOSE, "muscle"), asked, 60.0, "end")
    assert counts(Intent(Act.CHOOSE), asked, 60.0, "go-on")


@pytest.mark.parametrize("act", [act for act in Act if act not in (Act.NEXT, Act.CHOOSE)])
def test_a_muscle_can_do_nothing_else(act: Act) -> None:
    assert not counts(Intent(act, "muscle"), ASKED, 60.0)


@pytest.mark.parametrize("device", ["keyboard", "pointer", "controller"])
def test_the_second_half_of_a_double_click_is_no_answer(device: Device) -> None:
    act = Act.PRESS if device == "pointer" else Act.CHOOSE
    careful = Asked("how much does it hurt", 9, careful=True)
    assert not counts(Intent(act, device), careful, HAND_S - 0.01)
    assert counts(Intent(act, device), careful, HAND_S)
    assert counts(Intent(act, device), ASKED, 0.0)
    assert counts(Intent(Act.NEXT, device), careful, 0.0)
