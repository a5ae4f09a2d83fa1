"""Keyboard, mouse or touch and game controller, all turned into the same few intents; `deliberate` adds the muscle's.

Screens know intents only. Tables below say which key or button means what.
"""

from dataclasses import dataclass
from enum import Enum, auto
from typing import Literal

import pygame
from musclewood.games.kit.canvas import Canvas, Point

Device = Literal["keyboard", "pointer", "controller", "switch", "muscle"]


class Act(Enum):
    """What somebody wants."""

    LEFT = auto()
    RIGHT = auto()
    UP = auto()
    DOWN = auto()
    NEXT = auto()
    PREVIOUS = auto()
    CHOOSE = auto()
    BACK = auto()
    PAUSE = auto()
    STOP = auto()
    HURTS = auto()
    POINT = auto()  # the pointer is here
    PRESS = auto()  # the pointer presses here
    EFFORT = auto()  # a stand-in for a muscle: key, trigger
    SWITCH = auto()  # the one switch goes down (level 1) or up (level 0)
    FULL_SCREEN = auto()
    KEYS = auto()  # to see which key does what
    LOUDER = auto()
    SOFTER = auto()
    READ = auto()  # aloud, or no longer
    DIGIT = auto()  # a number that is typed: `channel`
    QUIT = auto()


@dataclass(frozen=True)
class Intent:
    """One act; `at` in logical units for a pointer, `channel` and `level` 0-1 for an effort, `channel` for a digit."""

    act: Act
    device: Device = "keyboard"
    at: Point | None = None
    channel: int = 0
    level: float = 0.0


KEYS: dict[int, Act] = {
    pygame.K_LEFT: Act.LEFT,
    pygame.K_RIGHT: Act.RIGHT,
    pygame.K_UP: Act.UP,
    pygame.K_DOWN: Act.DOWN,
    pygame.K_TAB: Act.NEXT,
    pygame.K_RETURN: Act.CHOOSE,
    pygame.K_KP_ENTER: Act.CHOOSE,
    pygame.K_ESCAPE: Act.BACK,
    pygame.K_p: Act.PAUSE,
    pygame.K_s: Act.STOP,
    pygame.K_h: Act.HURTS,
    pygame.K_F11: Act.FULL_SCREEN,
    pygame.K_F1: Act.KEYS,
    pygame.K_PLUS: Act.LOUDER,
    pygame.K_EQUALS: Act.LOUDER,  # the same key, where plus needs a second one
    pygame.K_KP_PLUS: Act.LOUDER,
    pygame.K_MINUS: Act.SOFTER,
    pygame.K_KP_MINUS: Act.SOFTER,
    pygame.K_r: Act.READ,
}
DIGITS: dict[int, int] = {
    **{pygame.K_0 + number: number for number in range(10)},
    **{key: (number + 1) % 10 for number, key in enumerate(range(pygame.K_KP_1, pygame.K_KP_0 + 1))},
}
SWITCH_KEYS = (pygame.K_SPACE, pygame.K_RETURN, pygame.K_KP_ENTER)
SWITCH_BUTTON = 0  # of a controller
EFFORT_KEYS: dict[int, int] = {pygame.K_SPACE: 0, pygame.K_f: 0, pygame.K_j: 1}  # key to channel
PAD_BUTTONS: dict[int, Act] = {
    0: Act.CHOOSE,
    1: Act.BACK,
    2: Act.HURTS,
    3: Act.STOP,
    4: Act.PREVIOUS,
    5: Act.NEXT,
    7: Act.PAUSE,
}
PAD_HATS: dict[tuple[int, int], Act] = {(-1, 0): Act.LEFT, (1, 0): Act.RIGHT, (0, 1): Act.UP, (0, -1): Act.DOWN}
PAD_TRIGGERS: dict[int, int] = {5: 0, 2: 1}  # axis to channel: right trigger, left trigger
STICK_ON, STICK_OFF = 0.6, 0.35  # a stick counts as pushed beyond the first, as let go below the second


class Controls:
    """Turns pygame events into intents; knows which controllers are plugged in.

    effort_wanted: keys stand in for a muscle while this is set; else the space bar chooses. one_switch: a few keys, the
    click and a controller's first button are one switch, whose presses are weighed elsewhere.
    """

    def __init__(self) -> None:
        self.effort_wanted = False
        self.one_switch = False
        self._pads: dict[int, pygame.joystick.JoystickType] = {}
        self._pushed: dict[tuple[int, int], int] = {}

    def read(self, event: pygame.event.Event, canvas: Canvas) -> list[Intent]:
        """Intents of one event; most events have none."""
        if event.type == pygame.QUIT:
            return [Intent(Act.QUIT)]
        if self.one_switch and (down := self.held(event)) is not None:
            return [Intent(Act.SWITCH, "switch", level=float(down))]
        if event.type in (pygame.KEYDOWN, pygame.KEYUP):
            return self._key(event)
        if event.type in (pygame.MOUSEMOTION, pygame.MOUSEBUTTONDOWN):
            return self._pointer(event, canvas)
        if event.type in (pygame.JOYDEVICEADDED, pygame.JOYDEVICEREMOVED):
            self._plug(event)
            return []
        return self._pad(event)

    def held(self, event: pygame.event.Event) -> bool | None:
        """Whether an event presses (True) or lets go (False) what could be one switch; None if it does neither."""
        if event.type in (pygame.KEYDOWN, pygame.KEYUP) and event.key in SWITCH_KEYS:
            if self.effort_wanted and event.key in EFFORT_KEYS:
                return None
            return bool(event.type == pygame.KEYDOWN)
        if event.type in (pygame.MOUSEBUTTONDOWN, pygame.MOUSEBUTTONUP) and event.button == 1 and self.one_switch:
            return bool(event.type == pygame.MOUSEBUTTONDOWN)
        if event.type in (pygame.JOYBUTTONDOWN, pygame.JOYBUTTONUP) and event.button == SWITCH_BUTTON:
            return bool(event.type == pygame.JOYBUTTONDOWN)
        return None

    def _key(self, event: pygame.event.Event) -> list[Intent]:
        down = event.type == pygame.KEYDOWN
        if event.key in EFFORT_KEYS and self.effort_wanted:
            return [Intent(Act.EFFORT, channel=EFFORT_KEYS[event.key], level=float(down))]
        if not down:
            return []
        if event.key == pygame.K_TAB and event.mod & pygame.KMOD_SHIFT:
            return [Intent(Act.PREVIOUS)]
        if event.key == pygame.K_SPACE:
            return [Intent(Act.CHOOSE)]
        if event.key in DIGITS:
            return [Intent(Act.DIGIT, channel=DIGITS[event.key])]
        return [Intent(KEYS[event.key])] if event.key in KEYS else []

    def _pointer(self, event: pygame.event.Event, canvas: Canvas) -> list[Intent]:
        at = canvas.logical(event.pos)
        if event.type == pygame.MOUSEMOTION:
            return [Intent(Act.POINT, "pointer", at)]
        return [Intent(Act.PRESS, "pointer", at)] if event.button == 1 else []

    def _plug(self, event: pygame.event.Event) -> None:
        if event.type == pygame.JOYDEVICEADDED:
            pad = pygame.joystick.Joystick(event.device_index)
            self._pads[pad.get_instance_id()] = pad
        else:
            self._pads.pop(event.instance_id, None)
            self._pushed.clear()

    def _pad(self, event: pygame.event.Event) -> list[Intent]:
        if event.type == pygame.JOYBUTTONDOWN and event.button in PAD_BUTTONS:
            return [Intent(PAD_BUTTONS[event.button], "controller")]
        if event.type == pygame.JOYHATMOTION and tuple(event.value) in PAD_HATS:
            return [Intent(PAD_HATS[tuple(event.value)], "controller")]
        if event.type == pygame.JOYAXISMOTION and event.axis in (0, 1):
            return self._stick(event)
        if event.type == pygame.JOYAXISMOTION and event.axis in PAD_TRIGGERS:
            level = min(1.0, max(0.0, (event.value + 1) / 2))
            return [Intent(Act.EFFORT, "controller", channel=PAD_TRIGGERS[event.axis], level=level)]
        return []

    def _stick(self, event: pygame.event.Event) -> list[Intent]:
        """One intent a push: the stick must come back before it moves on again."""
        key = (event.instance_id, event.axis)
        if abs(event.value) < STICK_OFF:
            self._pushed[key] = 0
        side = 1 if event.value > 0 else -1
        if abs(event.value) < STICK_ON or self._pushed.get(key, 0) == side:
            return []
        self._pushed[key] = side
        back, forth = ((Act.LEFT, Act.RIGHT), (Act.UP, Act.DOWN))[event.axis]
        return [Intent(forth if side > 0 else back, "controller")]
