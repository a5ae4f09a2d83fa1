"""What a workshop is. Each lives in a folder of its own here and is found by being there.

To add one, make a folder with an ``__init__.py`` that holds ``WORKSHOP = Workshop(...)``, and beside it

- ``rules.py``: what happens. Pure: no pygame, no clock, no random number without the seed. It shows effort and keeps
  what was made; it never counts, because products come from `RepMade` events alone.
- ``picture.py``: how it looks. It only reads the rules.
- ``sounds.py``: the voices of its cues, each a function without arguments that returns samples.

Its words stand in the catalogues (`place.NAME`, `today.ask.NAME`, `desk.workshop.NAME`), its pictures in
``assets/art/NAME``; that is all. `musclewood.games.workshops.kiln` is the one to read first. A workshop knows no other.
"""

from __future__ import annotations

import pkgutil
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING, Any, Protocol, TypeAlias

from musclewood.games.workshops.doors import Door

if TYPE_CHECKING:
    import numpy as np
    from musclewood.games.engine.rep_events import RepEvent, RepView
    from musclewood.games.engine.shelf import Product
    from musclewood.games.kit.canvas import Box, Canvas
    from musclewood.games.kit.paper import PaperBox
    from musclewood.profiles.orders.exercises import Kind
    from musclewood.profiles.plan.dose import PlannedExercise
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class SoundCue:
    """One sound to begin now: a voice of the workshop or of the village, moved by steps of the village's scale."""

    voice: str
    degree: int = 0
    gain: float = 1.0


@dataclass(frozen=True, slots=True)
class Drone:
    """The tone that effort makes. Silent at level 0.

    level: loudness 0..1; height: effort as a multiple of the target (1.0 = on target), which sets the pitch;
    accord: 0..1, how much of the chord sounds that says "within the band"; breath: 0..1, hiss of wasted effort.
    """

    level: float = 0.0
    height: float = 0.0
    accord: float = 0.0
    breath: float = 0.0


SILENT = Drone()


@dataclass(frozen=True)
class PictureSetup:
    """What a picture needs to know before it is drawn."""

    box: PaperBox
    reduced_motion: bool = False


class Rules(Protocol):
    """What happens in a workshop. `drone`, `made` and `door` (0 open, 1 closed) are read after every step."""

    drone: Drone
    made: list[Product]
    door: float

    def step(self, step_s: float, view: RepView, events: Sequence[RepEvent]) -> list[SoundCue]: ...


BeginRules: TypeAlias = "Callable[[PlannedExercise, int, Sequence[Product], date], Rules]"


class Picture(Protocol):
    """How it looks; reads the rules and never changes them."""

    def draw(self, canvas: Canvas, rules: Any, view: RepView, time_s: float) -> None: ...


class DrawProduct(Protocol):
    """Draws one made thing into a logical box, at any size."""

    def __call__(self, canvas: Canvas, box: Box, product: Product) -> None: ...


@dataclass(frozen=True)
class House:
    """Where a workshop stands in the village, in logical units of 1280 by 720.

    `box` (left, top, width, height) can be pressed; the name hangs below it, or where `name` has its upper middle.
    `sheet` is painted always, `lit` only while there is something to do; both are files of assets/art without their
    ending. `lamps` are soft lights of an open door: x, y, radius, colour of the palette, strength. `chimney` smokes: x,
    y, size. `flicker` is a fire: x, y, radius.
    """

    box: tuple[float, float, float, float]
    sheet: str = ""
    lit: str = ""
    lamps: tuple[tuple[float, float, float, str, float], ...] = ()
    chimney: tuple[float, float, float] | None = None
    flicker: tuple[float, float, float] | None = None
    name: tuple[float, float] | None = None


@dataclass(frozen=True)
class Workshop:
    """One workshop. Rules, and what needs pygame, are loaded when they are first asked for.

    `door` closes before the effort while it is not to be seen. `art` are the files a screen may bake ahead
    (`PaperBox.bake_behind`), `words` the quiet part of the picture in logical units (left, top, width, height) where a
    screen may write.
    """

    name: str
    kinds: tuple[Kind, ...]
    rules: BeginRules
    picture: Callable[[], Callable[[PictureSetup], Picture]]
    draw_product: Callable[[], DrawProduct]
    voices: Callable[[], Mapping[str, Callable[[], NDArray[np.float32]]]]
    house: House
    door: Door
    art: tuple[str, ...] = ()
    words: tuple[float, float, float, float] = (24.0, 24.0, 440.0, 230.0)


def later(package: str, what: str) -> Callable[[], Any]:
    """Loads a part of a workshop when it is first asked for, such as "picture.KilnPicture": drawing needs pygame."""
    module, _, name = what.rpartition(".")
    return lambda: getattr(import_module(f"{package}.{module}"), name)


def begun_by(package: str, what: str) -> BeginRules:
    """Begins the rules of a workshop, such as "rules.KilnRules": they are loaded when somebody comes to work."""

    def begin(exercise: PlannedExercise, seed: int, made: Sequence[Product], today: date) -> Rules:
        rules: BeginRules = later(package, what)()
        return rules(exercise, seed, made, today)

    return begin


@cache
def workshops() -> Mapping[str, Workshop]:
    """All workshops by name. AttributeError names a folder that holds none."""
    folders = sorted(module.name for module in pkgutil.iter_modules(__path__) if module.ispkg)
    found = [import_module(f"{__name__}.{folder}").WORKSHOP for folder in folders]
    return {workshop.name: workshop for workshop in found}


def fitting(kind: str) -> tuple[str, ...]:
    """The workshops that play a kind of exercise, by name."""
    return tuple(name for name, workshop in workshops().items() if kind in workshop.kinds)
