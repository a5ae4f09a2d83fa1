"""Every device says the same few things."""

from __future__ import annotations

import pygame
import pytest
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import KEYS, PAD_BUTTONS, Act, Controls, Intent


@pytest.fixture
def canvas() -> Canvas:
    return Canvas(pygame.Surface((1280, 720)))


def key(code: int, down: bool = True, mod: int = 0) -> pygame.event.Event:
    return pygame.event.Event(pygame.KEYDOWN if down else pygame.KEYUP, key=code, mod=mod)


def test_space_chooses_until_it_is_a_muscle(canvas: Canvas) -> None:
    controls = Controls()
    assert controls.read(key(pygame.K_SPACE), canvas) == [Intent(Act.CHOOSE)]
    controls.effort_wanted = True
    assert controls.read(key(pygame.K_SPACE), canvas) == [Intent(Act.EFFORT, channel=0, level=1.0)]
    assert controls.read(key(pygame.K_SPACE, down=False), canvas) == [Intent(Act.EFFORT, channel=0, level=0.0)]
    assert controls.read(key(pygame.K_j), canvas)[0].channel == 1


def test_stop_pain_and_pause_have_keys_and_buttons() -> None:
    for act in (Act.STOP, Act.HURTS, Act.PAUSE, Act.CHOOSE, Act.BACK):
        assert act in KEYS.values()
        assert act in PAD_BUTTONS.values()


def test_shift_tab_goes_back(canvas: Canvas) -> None:
    assert Controls().read(key(pygame.K_TAB, mod=pygame.KMOD_SHIFT), canvas) == [Intent(Act.PREVIOUS)]


def test_a_stick_moves_once_a_push(canvas: Canvas) -> None:
    controls = Controls()

    def push(value: float, axis: int = 0) -> list[Intent]:
        return controls.read(pygame.event.Event(pygame.JOYAXISMOTION, axis=axis, value=value, instance_id=0), canvas)

    assert push(0.3) == []
    assert push(0.9) == [Intent(Act.RIGHT, "controller")]
    assert push(1.0) == []
    assert push(0.5) == []  # not let go yet
    assert push(0.1) == []
    assert push(0.7) == [Intent(Act.RIGHT, "controller")]
    assert push(-0.8) == [Intent(Act.LEFT, "controller")]
    assert push(-0.8, axis=1) == [Intent(Act.UP, "controller")]


def test_a_trigger_is_a_graded_effort(canvas: Canvas) -> None:
    event = pygame.event.Event(pygame.JOYAXISMOTION, axis=5, value=0.0, instance_id=0)
    (intent,) = Controls().read(event, canvas)
    assert (intent.act, intent.channel, intent.level) == (Act.EFFORT, 0, 0.5)


def test_an_unplugged_controller_is_forgotten(canvas: Canvas) -> None:
    controls = Controls()
    gone = pygame.event.Event(pygame.JOYDEVICEREMOVED, instance_id=7)
    assert controls.read(gone, canvas) == controls.read(gone, canvas) == []


def test_the_pointer_speaks_in_logical_units_inside_the_bars() -> None:
    wide = Canvas(pygame.Surface((2000, 720)))
    event = pygame.event.Event(pygame.MOUSEBUTTONDOWN, button=1, pos=(360 + 640, 360))
    (intent,) = Controls().read(event, wide)
    assert intent.at == (640, 360)
