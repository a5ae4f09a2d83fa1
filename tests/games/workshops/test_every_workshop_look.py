"""What holds for the picture of every workshop there is: it never flashes, never tells by
colour alone, and only looks."""

from __future__ import annotations

import copy
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, cast

import numpy as np
import pygame
import pytest
from musclewood.games.engine.rep_events import Phase, Reading, RepView
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.session_events import SessionView
from musclewood.games.engine.shelf import product_of
from musclewood.games.gallery.evenings import EXERCISES
from musclewood.games.gallery.gallery import StillPlay
from musclewood.games.gallery.made_up import judged
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.paper import PaperBox
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.screens.base.page import Surroundings
from musclewood.games.screens.base.play import Play
from musclewood.games.screens.base.scenery import Backdrops
from musclewood.games.screens.session.workshop import WorkPage
from musclewood.games.workshops import Picture, PictureSetup, Rules, workshops
from musclewood.profiles.plan.dose import PlannedExercise
from numpy.typing import NDArray

from tests.games.contrast import luminance

EVERY = tuple(workshops())
SIZE, SMALL = (320, 180), (128, 72)
TODAY = date(2026, 11, 25)
FRAME_S, TICKS = 1 / 60, 2
FRAMES_SEEN_PER_S = 30
SHOWN_AT = 0.4  # share of an attempt that is over in a still
# Machado, Oliveira and Fernandes (2009), IEEE Trans Vis Comput Graph 15:1291, severity 1.0; applied to linear RGB.
DEFICITS = {
    "protanopia": ((0.152286, 1.052583, -0.204868), (0.114503, 0.786281, 0.099216), (-0.003882, -0.048116, 1.051998)),
    "deuteranopia": ((0.367322, 0.860646, -0.227968), (0.280085, 0.672501, 0.047413), (-0.011820, 0.042940, 0.968881)),
    "tritanopia": ((1.255528, -0.076749, -0.178779), (-0.078411, 0.930809, 0.147602), (0.004733, 0.691367, 0.303900)),
}
WEIGHTS = (0.2126, 0.7152, 0.0722)  # of red, green and blue in relative luminance, WCAG 2.2


@dataclass
class Open:
    """A workshop whose picture is baked."""

    name: str
    exercise: PlannedExercise
    canvas: Canvas
    moving: Picture
    still: Picture
    time_s: float = 0.0

    def rules(self, shelf: int = 4) -> Rules:
        before = [product_of(judged(number), self.name, TODAY) for number in range(shelf)]
        return workshops()[self.name].rules(self.exercise, 5, before, TODAY)

    def drawn(self, picture: Picture, rules: Rules, view: RepView) -> NDArray[np.uint8]:
        """One frame, with everything that threads paint."""
        for _ in range(3):
            self.time_s += 1.0
            picture.draw(self.canvas, rules, view, self.time_s)
            getattr(picture, "settle", lambda: None)()
        return np.asarray(pygame.surfarray.array3d(self.canvas.surface))


@pytest.fixture(scope="module", params=EVERY)
def here(request: pytest.FixtureRequest) -> Iterator[Open]:
    pygame.display.init()
    canvas = Canvas(pygame.display.set_mode(SIZE))
    box, picture = PaperBox(canvas.scale), workshops()[request.param].picture()
    exercise = replace(EXERCISES[request.param], sets=1, reps=2, rest_s=2.0, tolerance_pct_mvc=6.0)
    yield Open(
        request.param, exercise, canvas, picture(PictureSetup(box)), picture(PictureSetup(box, reduced_motion=True))
    )
    pygame.display.quit()


# --- drawing only looks
# -------------------------------------------------------------------------------------------------
def plain(thing: object) -> Any:
    """A deep copy of everything an object holds, as plain data that can be compared."""
    if isinstance(thing, dict):
        return {key: plain(value) for key, value in thing.items()}
    if isinstance(thing, set | frozenset):
        return sorted(map(repr, thing))
    if isinstance(thing, list | tuple):
        return [plain(part) for part in thing]
    if isinstance(thing, np.ndarray):
        return thing.tolist()
    if hasattr(thing, "getstate"):  # a random generator
        return repr(thing.getstate())
    if hasattr(thing, "__dict__"):
        return {"is": type(thing).__name__, **{key: plain(value) for key, value in vars(thing).items()}}
    if hasattr(thing, "__slots__") and not isinstance(thing, str | bytes):
        return {"is": type(thing).__name__, **{key: plain(getattr(thing, key)) for key in thing.__slots__}}
    return copy.copy(thing)


def test_drawing_never_changes_what_happens(here: Open) -> None:
    """In every phase, and after something was made."""
    engine, rules = RepEngine(here.exercise, FRAME_S), here.rules()
    seen: set[str] = set()
    for view in played(here, engine, rules, "steady", 9.0):
        if view.phase in seen and not (rules.made and "made" not in seen):
            continue
        seen |= {view.phase, *(["made"] if rules.made else [])}
        before = plain(rules)
        for _ in range(2):
            here.time_s += FRAME_S
            here.moving.draw(here.canvas, rules, view, here.time_s)
        assert plain(rules) == before
    assert {"ready", "effort", "made"} <= seen


# --- evenings
# -----------------------------------------------------------------------------------------------------------
def played(here: Open, engine: RepEngine, rules: Rules, who: str, limit_s: float) -> Iterator[RepView]:
    """After every frame: the view. The patient is `steady`, `shaky` or `over-keen`."""
    chance, levels = np.random.default_rng(3), np.zeros(len(here.exercise.channels))
    for frame in range(round(limit_s / FRAME_S)):
        view, events = engine.view, []
        target = view.target if view.pattern_target is None else view.pattern_target
        works = view.phase in ("ready", "effort") and not (view.kind == "quick" and view.held_s > view.hold_s)
        time_s = frame * FRAME_S
        waver = 1 + 0.3 * np.sin(9 * time_s) + 0.15 * np.sin(23 * time_s) if who == "shaky" else 1.0
        level = target * waver if who != "over-keen" else 1.5 * view.high
        still = 0.2 if who == "steady" else 1.0  # what somebody does who is asked to be quiet
        aim = np.asarray((level * (still if view.kind == "relax" else 1.0), 0.1 if view.kind == "selective" else level))
        for _ in range(TICKS):
            levels = levels + (aim[: len(levels)] * works - levels) * FRAME_S / TICKS / 0.1
            heard = np.maximum(0.0, levels * (1 + 0.03 * chance.standard_normal(len(levels))))
            events += engine.step(Reading(tuple(heard.tolist()), tuple((heard > 0.07).tolist())))
        rules.step(FRAME_S, engine.view, events)
        yield engine.view
        if engine.done:
            return


def linear(pixels: NDArray[Any]) -> NDArray[np.float64]:
    """sRGB 0..255 as linear light 0..1 (WCAG 2.2, definition of relative luminance)."""
    share = pixels / 255.0
    return np.asarray(np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4))


def flashing(values: NDArray[np.float64], least: float, may: NDArray[np.bool_], frames_a_second: int) -> float:
    """Largest share of the picture that flashes more than three times within the same second.

    A flash is a pair of opposing changes of at least `least`. values: (frames, w, h); may: (frames, w, h), whether a
    state may be one end of a change that matters.
    """
    turns, direction = np.zeros(values.shape, dtype=np.float32), np.zeros(values.shape[1:])
    extreme, fit = values[0].copy(), may[0].copy()
    for number, now in enumerate(values[1:], 1):
        moved = now - extreme
        counts = (np.abs(moved) >= least) & (may[number] | fit) & (np.sign(moved) != direction)
        turns[number][counts] = 1
        direction = np.where(counts, np.sign(moved), direction)
        further = counts | (np.sign(moved) == direction)
        extreme, fit = np.where(further, now, extreme), np.where(further, may[number], fit)
    summed = np.cumsum(turns, axis=0)
    summed[frames_a_second:] -= summed[:-frames_a_second].copy()
    return float((summed / 2 > 3).mean(axis=(1, 2)).max())


def general_flashes(light: NDArray[np.float64], frames_a_second: int) -> float:
    """WCAG 2.3.1: relative luminance changes by a tenth or more, the darker state below 0.8.
    light: (frames, w, h, 3)."""
    bright = light @ np.asarray(WEIGHTS, dtype=light.dtype)
    return flashing(bright, 0.1, bright < 0.8, frames_a_second)


def red_flashes(light: NDArray[np.float64], frames_a_second: int) -> float:
    """WCAG 2.3.1: opposing changes that involve a saturated red: R/(R+G+B) >= 0.8, (R-G-B)*320 changing by more than
    20."""
    red = np.maximum(0.0, light[..., 0] - light[..., 1] - light[..., 2]) * 320
    saturated = light[..., 0] >= 0.8 * np.maximum(light.sum(axis=-1), 1e-6)
    return flashing(red, 20.0, saturated, frames_a_second)


def test_the_flash_counters_see_flashes() -> None:
    def shown(*colours: tuple[float, float, float]) -> NDArray[np.float64]:
        return np.tile(np.asarray(colours)[:, None, None, :], (6, 2, 2, 1))

    grey = [(level, level, level) for level in (0.1, 0.5, 0.1, 0.5)]
    assert general_flashes(shown(*grey), 30) == 1.0
    assert red_flashes(shown(*grey), 30) == 0.0
    assert red_flashes(shown((0.1, 0.0, 0.0), (0.3, 0.0, 0.0)), 30) == 1.0
    assert general_flashes(np.linspace(0, 1, 60)[:, None, None, None] * np.ones((60, 2, 2, 3)), 30) == 0.0
    slow = np.repeat(shown(*grey), 10, axis=0)  # a change every third of a second: a flash and a half a second
    assert general_flashes(slow, 30) == 0.0


@pytest.mark.full_size
@pytest.mark.parametrize("who", ["shaky", "over-keen"])
def test_nothing_flashes_more_than_three_times_a_second(here: Open, who: str, full: bool) -> None:
    """Over a whole exercise. Flashes matter from a quarter of ten degrees of sight on (WCAG 2.3.1): 2.8 % of the
    picture.

    What follows the muscle may tremble as fast as the muscle does; it must stay below that area.
    """
    if not full and who == "over-keen":
        pytest.skip("under MUSCLEWOOD_FULL=1")
    if full:
        here = replace(here, exercise=replace(here.exercise, sets=2, reps=5))
    engine, rules, seen = RepEngine(here.exercise, FRAME_S / TICKS), here.rules(120 if full else 9), []
    for number, view in enumerate(played(here, engine, rules, who, 240.0 if full else 3.0)):
        if number % 2 == 0:
            here.time_s += 2 * FRAME_S
            here.moving.draw(here.canvas, rules, view, here.time_s)
            small = pygame.surfarray.array3d(pygame.transform.smoothscale(here.canvas.surface, SMALL))
            seen.append(linear(small).astype(np.float32))
    light = np.asarray(seen)
    for count in (general_flashes, red_flashes):
        busy = count(light, FRAMES_SEEN_PER_S)
        print(f"{here.name}, {who}: {100 * busy:.2f} % of the picture in {count.__name__}")
        assert busy < 0.028


# --- told by more than colour
# -------------------------------------------------------------------------------------------
def states_of(here: Open) -> dict[str, NDArray[np.uint8]]:
    """The same workshop at the same moment with the effort as asked, below it and above it; all else stands still."""
    base = RepEngine(here.exercise, FRAME_S).view
    target, low, high, quiet = base.target, base.low, base.high, base.kind == "relax"
    if here.exercise.pattern:  # what the pattern asks at the moment that is shown
        along = np.linspace(0.0, 1.0, len(here.exercise.pattern))
        target = base.target * float(np.interp(SHOWN_AT, along, here.exercise.pattern))
        low, high = target - (base.target - base.low), target + (base.high - base.target)
    efforts = {"asked": 0.3 * target if quiet else target, "below": 0.45 * low, "above": high * 1.35 + 0.08}
    shown = {}
    for state, effort in efforts.items():
        if quiet and state == "below":
            continue  # quieter than quiet is not another state
        levels = (effort, 0.02 if base.kind == "selective" else effort)[: len(here.exercise.channels)]
        view = replace(
            base, phase="effort", readable=True, held_s=0.3 * base.hold_s, effort_s=SHOWN_AT * base.hold_s,
            activation=levels, level=levels,
            in_band=state == "asked", over=state == "above", opposite=0.02 if base.kind == "selective" else None,
            difference=0.0 if base.kind == "paired" else None,
        )  # fmt: skip
        rules = here.rules()
        for _ in range(90):
            rules.step(FRAME_S, view, [])
        shown[state] = here.drawn(here.still, rules, view)
    return shown


@pytest.mark.parametrize("deficit", DEFICITS)
def test_no_state_is_told_by_colour_alone(here: Open, deficit: str) -> None:
    """Seen by somebody colour-blind, and without any colour left, what is asked still looks another shape than the
    rest.

    Two pictures differ where their contrast is 1.4:1 or more; that must be an area of a thumbnail: 30 x 30 of 1280 x
    720.
    """
    seen = {}
    for state, pixels in states_of(here).items():
        light = np.clip(linear(pixels) @ np.asarray(DEFICITS[deficit]).T, 0.0, 1.0)
        seen[state] = light @ WEIGHTS
    for state, bright in seen.items():
        if state == "asked":
            continue
        lighter, darker = np.maximum(bright, seen["asked"]), np.minimum(bright, seen["asked"])
        differs = (lighter + 0.05) / (darker + 0.05) >= 1.4
        print(f"{here.name}, {deficit}: {state} differs in {100 * differs.mean():.2f} %")
        assert differs.mean() >= 0.00098, f"{state} can hardly be told from what is asked"


# --- words
# --------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("phase", ["ready", "rest"])
def test_words_over_the_picture_can_be_read(here: Open, phase: Phase) -> None:
    """The ink against every pixel behind the letters: 7:1, and 4.5:1 even for the darkest fibre of the paper."""
    theme, rules = Theme(Settings()), here.rules()
    view = replace(RepEngine(here.exercise, FRAME_S).view, phase=phase, readable=True, left_s=1.5)
    session = SessionView("exercise", 9.0, None, None, here.exercise, 1, here.name, 0.0, rep=view)
    page = WorkPage(Surroundings(theme, Backdrops(SIZE, at_once=True)), cast(Play, StillPlay(session, rules=rules)))
    widgets = [widget for widget in page.lay_out(here.canvas) if widget.lines]
    here.drawn(here.still, rules, view)
    for widget in widgets:
        replace(widget, lines=()).draw(here.canvas, theme)
        inside = Box(*widget.box).grown(-7)
        behind = linear(pygame.surfarray.array3d(here.canvas.surface.subsurface(here.canvas.area(inside)))) @ WEIGHTS
        ratio = (behind + 0.05) / (luminance(theme.ink) + 0.05)
        icon = widget.icon is not None or widget.picture is not None  # drawn on the same paper, but not behind letters
        assert np.quantile(ratio, 0.35 if icon else 0.02) >= 7.0, f"{widget.lines}"
        assert icon or ratio.min() >= 4.5, f"{widget.lines}"
    assert widgets
