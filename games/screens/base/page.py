"""What every screen is: a scene, some moving things, and a few things to read and choose.

A screen answers with a `Transition` when another one should come. It knows intents only, never keys or pixels.
"""

import math
from collections.abc import Callable, Hashable
from dataclasses import dataclass, field

from musclewood.games.kit.canvas import Box, Canvas, Point
from musclewood.games.kit.controls import Act, Device, Intent
from musclewood.games.kit.deliberate import Asked, counts
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import SMALL
from musclewood.games.kit.widgets import Look, Widget, focus_ring, sentence
from musclewood.games.screens.base.pace import QUIET, Pace
from musclewood.games.screens.base.scenery import Backdrops, Scene, cut, draw_near
from musclewood.games.sound.speaker import Speaker

FADE_S = 0.35
HOP_S = 0.28
WREN_ROOM = 54.0  # left free above what can be chosen, so that the wren covers no words


class Transition:
    """What should happen to the stack of screens."""


@dataclass(frozen=True)
class Push(Transition):
    page: "Page"


@dataclass(frozen=True)
class Replace(Transition):
    page: "Page"


@dataclass(frozen=True)
class Back(Transition):
    """Leave this screen for the one below."""


@dataclass(frozen=True)
class Home(Transition):
    """Leave every screen but the first."""


@dataclass(frozen=True)
class Leave(Transition):
    """End the program."""


@dataclass
class Surroundings:
    """What all screens share. The app replaces reader and backdrops when settings or the window change.

    muscle_steers: a sensor is on and a contraction may choose; muscle_ready: there was time to read;
    held_share: how far a long contraction has come; let_go: frees the sensor for a session. can_read: whether this
    system has a voice to read aloud; speaking: whether something is still to be heard of what is read. seen: whether
    the window is in sight.
    """

    theme: Theme
    backdrops: Backdrops
    muscle_steers: bool = False
    muscle_ready: bool = False
    held_share: float = 0.0
    speaker: Speaker = field(default_factory=lambda: Speaker(gain=0.0))
    let_go: Callable[[], None] = lambda: None
    can_read: Callable[[], bool] = lambda: False
    speaking: Callable[[], bool] = lambda: False
    seen: bool = True


DIRECTIONS = {Act.LEFT: (-1, 0), Act.RIGHT: (1, 0), Act.UP: (0, -1), Act.DOWN: (0, 1)}


class Page:
    """Base of all screens. Subclasses say their scene, build their widgets and answer what is chosen."""

    scene: Scene
    wren = True  # whether the wren shows what is about to be chosen
    eager = True  # whether something is ready to be chosen before anybody has moved
    careful = False  # whether a hand's second press must not answer what its first one brought up
    spoken = False  # read aloud even before anybody said that all shall be
    closed_to_muscle: frozenset[str] = frozenset()  # what a contraction never chooses here
    under_way = False  # whether it listens to the muscle by itself, and is never covered

    def __init__(self, around: Surroundings) -> None:
        self.around = around
        self.time_s = 0.0
        self.focus = ""
        self._widgets: list[Widget] = []
        self._built_for: Hashable = None
        self._seen_s = 0.0
        self._in_sight_s = 0.0  # since the first picture of what is asked now
        self._in_sight: Hashable = None
        self.device: Device = "keyboard"  # that the last intent came from
        self._wren_from: Point = (0.0, 0.0)
        self._wren_to: Point | None = None
        self._hop_s = HOP_S

    @property
    def pace(self) -> Pace:
        """How often it wants to be drawn, beyond what follows an answer."""
        return QUIET

    @property
    def theme(self) -> Theme:
        return self.around.theme

    @property
    def spoken_page(self) -> "Page":
        """The page whose words are read aloud: this one, or one that it shows."""
        return self

    @property
    def wants_effort(self) -> bool:
        """Whether keys stand in for the muscle now."""
        return False

    def close(self) -> None:
        """End whatever is open: a session, a sensor."""

    def muscle_hint(self, canvas: Canvas, at: Point, width: float) -> list[Widget]:
        """How to choose without hands, while a sensor is on and a contraction may choose; else nothing."""
        if not self.around.muscle_steers and not self.theme.settings.one_switch:
            return []
        look = Look(size=SMALL, margin=16)
        key = "common.muscle-hint" if self.around.muscle_ready else "common.muscle-read"
        key = key if self.around.muscle_steers else "common.switch-hint"
        return [sentence(canvas, self.theme, self.theme.words(key), at, width, look)]

    # -- for subclasses

    def build(self, canvas: Canvas) -> list[Widget]:
        """Everything to read and choose, laid out for this canvas and reader."""
        raise NotImplementedError

    def state(self) -> Hashable:
        """Whatever changes the layout when it changes."""
        return None

    def chosen(self, key: str) -> Transition | None:
        """The widget with this key was chosen."""
        raise NotImplementedError

    def back(self) -> Transition | None:
        """Escape, or the controller's second button."""
        return Back()

    def turned(self) -> Hashable:
        """Whatever makes another question of this page when it changes, so that it must be read anew."""
        return None

    def paint(self, canvas: Canvas) -> None:
        """Moving things between scenery and slips."""

    def update(self, dt_s: float) -> Transition | None:
        """Time passes."""
        self.time_s += dt_s
        self._hop_s += dt_s
        self._in_sight_s += dt_s if self._in_sight is not None and self.around.seen else 0.0
        return None

    # -- intents

    def handle(self, intent: Intent) -> Transition | None:
        """Answer one intent, if it was meant."""
        self.device = intent.device
        if not counts(intent, self.question(), self.shown_s, self._meant(intent)):
            return None
        if intent.act in (Act.NEXT, Act.PREVIOUS):
            self._step(1 if intent.act is Act.NEXT else -1)
        elif intent.act in DIRECTIONS:
            self._go(DIRECTIONS[intent.act])
        elif intent.act in (Act.POINT, Act.PRESS) and intent.at:
            under = self._under(intent.at)
            self.focus = under.key if under else self.focus
            return self.chosen(under.key) if under and intent.act is Act.PRESS else None
        elif intent.act is Act.CHOOSE and self.focus:
            return self.chosen(self.focus)
        elif intent.act is Act.BACK:
            return self.back()
        return None

    def weighed(self, intent: Intent, key: str) -> bool:
        """Whether an intent that would choose `key` here was meant."""
        return counts(intent, self.question(), self.shown_s, key)

    def question(self) -> Asked:
        """What is asked now, for whoever weighs whether an answer was meant."""
        what = (self, self.turned())
        words = sum(len(line.split()) for widget in self._widgets for line in widget.lines)
        return Asked(what, words if self._in_sight == what else None, self.closed_to_muscle, self.careful)

    @property
    def shown_s(self) -> float:
        """How long what is asked now has been in sight."""
        return self._in_sight_s if self._in_sight == (self, self.turned()) else 0.0

    def _meant(self, intent: Intent) -> str:
        """What this intent would choose."""
        return self.focus if intent.act is Act.CHOOSE else ""

    def choices(self) -> list[Widget]:
        """What can be chosen, in reading order."""
        return [widget for widget in self._widgets if widget.key]

    def _under(self, at: Point) -> Widget | None:
        return next((widget for widget in reversed(self.choices()) if widget.box.holds(at)), None)

    def _step(self, by: int) -> None:
        closed = self.closed_to_muscle if self.device == "muscle" else ()
        keys = [widget.key for widget in self.choices() if widget.key not in closed]
        if keys:
            here = keys.index(self.focus) if self.focus in keys else -by
            self.focus = keys[(here + by) % len(keys)]

    def _go(self, way: tuple[int, int]) -> None:
        """To the nearest choice that lies this way; sideways distance counts double."""
        here = next((widget.box.centre for widget in self.choices() if widget.key == self.focus), None)
        if here is None:
            self._step(1)
            return
        best, least = "", math.inf
        for widget in self.choices():
            across = widget.box.centre[0] - here[0], widget.box.centre[1] - here[1]
            along = across[0] * way[0] + across[1] * way[1]
            aside = abs(across[0] * way[1]) + abs(across[1] * way[0])
            if along > 4 and along + 2 * aside < least:
                best, least = widget.key, along + 2 * aside
        if best:
            self.focus = best
        else:
            self._step(way[0] + way[1])

    # -- drawing

    def lay_out(self, canvas: Canvas) -> list[Widget]:
        """Widgets for this canvas, built again only when something changed."""
        around, what = self.around, (self, self.turned())
        if self._in_sight != what:
            self._in_sight, self._in_sight_s = what, 0.0
        now = (canvas.size, id(self.theme), around.muscle_steers and 1 + around.muscle_ready, self.state(), what)
        if now != self._built_for:
            self._widgets = self.build(canvas)
            self._built_for = now
            keys = [widget.key for widget in self.choices()]
            if self.focus not in keys:
                self.focus = keys[0] if keys and self.eager else ""
        return self._widgets

    def draw(self, canvas: Canvas) -> None:
        """The whole picture."""
        widgets = self.lay_out(canvas)
        self.draw_still(canvas)
        self.draw_widgets(canvas, widgets)

    def draw_still(self, canvas: Canvas) -> None:
        """The picture without anything to read or choose: what another page may lie over."""
        self._backdrop(canvas)
        self.paint(canvas)
        self._foreground(canvas)

    def draw_widgets(self, canvas: Canvas, widgets: list[Widget]) -> None:
        """Slips and tags, and the ring and the wren at what is about to be chosen."""
        for widget in widgets:
            widget.draw(canvas, self.theme)
        for widget in widgets:
            if widget.key and widget.key == self.focus:
                focus_ring(canvas, self.theme, widget.box, self.around.held_share)
                if self.wren:
                    self._perch(canvas, widget.box)

    def _backdrop(self, canvas: Canvas) -> None:
        """The scene, faded in once it is ready."""
        picture = self.around.backdrops.ask(self.scene)
        if picture is None:
            self._seen_s = self.time_s
            canvas.surface.blit(self.around.backdrops.bare(self.scene), (0, 0))
            return
        share = (self.time_s - self._seen_s) / FADE_S
        if self._seen_s > 0 and share < 1 and not self.theme.still:
            canvas.surface.blit(self.around.backdrops.bare(self.scene), (0, 0))
            picture.set_alpha(round(255 * share))
            canvas.surface.blit(picture, (0, 0))
            picture.set_alpha(None)
        else:
            canvas.surface.blit(picture, (0, 0))

    def stands(self) -> bool:
        """Whether the scene is there already; nothing of it moves over bare land."""
        return self.around.backdrops.ask(self.scene) is not None

    def _foreground(self, canvas: Canvas) -> None:
        """The nearest sheets of the scene, once it is there."""
        if self.stands():
            draw_near(canvas.surface, self.scene, 0.0 if self.theme.still else self.time_s)

    def _perch(self, canvas: Canvas, box: Box) -> None:
        """The wren sits on what is about to be chosen, where it covers no words, and hops there."""
        spots = ((box.right - 30, box.top - 6), (box.right + 38, box.bottom - 4), (box.left + 30, box.top - 6))
        goal = next((spot for spot in spots if not self._covers_words(spot, box)), spots[0])
        if self._wren_to != goal:
            self._wren_from = self._wren_to or goal
            self._wren_to, self._hop_s = goal, 0.0
        share = 1.0 if self.theme.still else min(1.0, self._hop_s / HOP_S)
        x = self._wren_from[0] + (goal[0] - self._wren_from[0]) * share
        y = self._wren_from[1] + (goal[1] - self._wren_from[1]) * share - 60 * share * (1 - share)
        cut("village/wren", "dusk", canvas.scale).draw(canvas.surface, x, y)

    def _covers_words(self, spot: Point, own: Box) -> bool:
        wren = Box(spot[0] - 28, spot[1] - 44, 58, 44)
        others = [widget.box for widget in self.shown() if widget.lines and widget.box != own]
        return any(wren.overlaps(other) for other in others) or wren.right > 1280

    def shown(self) -> list[Widget]:
        """Everything laid out now."""
        return self._widgets
