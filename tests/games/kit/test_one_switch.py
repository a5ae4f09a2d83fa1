"""One switch: short moves on, long chooses; a hand that trembles presses once. Durations are our choice."""

from __future__ import annotations

import pygame
import pytest
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Act, Controls
from musclewood.games.kit.one_switch import AGAIN_S, CRAMP_S, LONG_S, OneSwitch

STEP_S = 0.05


def pressed(*spans_s: float) -> list[Act]:
    """What a switch says that is down and up in turn for so long, and then left alone."""
    switch, said, down = OneSwitch(), [], True
    for span_s in (*spans_s, 1.0):
        switch.press(down)
        for _ in range(round(span_s / STEP_S)):
            said += [intent.act for intent in switch.step(STEP_S)]
        down = not down
    return said


@pytest.mark.parametrize("held_s", [0.05, 0.3, LONG_S - 0.1])
def test_short_is_next(held_s: float) -> None:
    assert pressed(held_s) == [Act.NEXT]


@pytest.mark.parametrize("held_s", [LONG_S + 0.05, 3.0, CRAMP_S - 0.1])
def test_long_chooses(held_s: float) -> None:
    assert pressed(held_s) == [Act.CHOOSE]


def test_a_cramp_says_nothing() -> None:
    assert pressed(CRAMP_S + 0.5) == []


def test_a_hand_that_trembles_presses_once() -> None:
    assert pressed(0.4, AGAIN_S - 0.1, 0.4, AGAIN_S - 0.1, 0.4) == [Act.CHOOSE]
    assert pressed(0.2, AGAIN_S + 0.1, 0.2) == [Act.NEXT, Act.NEXT]


@pytest.mark.parametrize(
    ("down", "up"),
    [
        ((pygame.KEYDOWN, {"key": pygame.K_SPACE}), (pygame.KEYUP, {"key": pygame.K_SPACE})),
        ((pygame.KEYDOWN, {"key": pygame.K_RETURN}), (pygame.KEYUP, {"key": pygame.K_RETURN})),
        ((pygame.MOUSEBUTTONDOWN, {"button": 1, "pos": (3, 3)}), (pygame.MOUSEBUTTONUP, {"button": 1, "pos": (3, 3)})),
        ((pygame.JOYBUTTONDOWN, {"button": 0}), (pygame.JOYBUTTONUP, {"button": 0})),
    ],
)
def test_whatever_a_switch_box_stands_in_for_is_the_switch(
    down: tuple[int, dict[str, object]], up: tuple[int, dict[str, object]]
) -> None:
    canvas, controls = Canvas(pygame.Surface((640, 360))), Controls()
    events = [pygame.event.Event(kind, mod=0, **values) for kind, values in (down, up)]
    controls.one_switch = True
    levels = [(intent.act, intent.level) for event in events for intent in controls.read(event, canvas)]
    assert levels == [(Act.SWITCH, 1.0), (Act.SWITCH, 0.0)]
    controls.one_switch = False
    assert Act.SWITCH not in [intent.act for event in events for intent in controls.read(event, canvas)]
