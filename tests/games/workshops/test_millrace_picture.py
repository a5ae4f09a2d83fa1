"""What the mill looks like: both muscles can be read from the picture alone, and no two sacks are alike."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import numpy as np
import pygame
import pytest
from musclewood.games.engine.rep_events import RepMade, RepView
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.shelf import Product, product_of
from musclewood.games.gallery.made_up import judged
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops import PictureSetup, workshops
from musclewood.games.workshops.millrace import sacks
from musclewood.games.workshops.millrace.mill import flour_top, grain_top
from musclewood.games.workshops.millrace.picture import MillracePicture
from musclewood.games.workshops.millrace.race import GATE_OPEN, MARK_Y, SILL_Y, edge_of, surface_of
from musclewood.games.workshops.millrace.rules import MARK, SILL, MillraceRules
from musclewood.games.workshops.millrace.sacks import draw_product, sack_image
from musclewood.games.workshops.millrace.stencils import STENCILS, unlocked
from musclewood.profiles.plan.dose import PlannedExercise

SMALL, TODAY, FRAME_S = (640, 360), date(2026, 11, 25), 1 / 60
THIGH = PlannedExercise(
    "thigh", "selective", "Thigh alone", ("millrace",), (0, 1), 3, 8, 4.0, 6.0, 9.0, 30.0, 8.0, 65.0, 8.0, 15.0
)


@pytest.fixture(scope="module")
def canvas() -> Iterator[Canvas]:
    pygame.display.init()
    yield Canvas(pygame.display.set_mode(SMALL))
    pygame.display.quit()


@pytest.fixture(scope="module")
def picture(canvas: Canvas) -> MillracePicture:
    made = workshops()["millrace"].picture()(PictureSetup(PaperBox(canvas.scale), reduced_motion=True))
    assert isinstance(made, MillracePicture)
    made.settle()
    return made


def mill(shelf: int = 0) -> MillraceRules:
    return MillraceRules(THIGH, 5, [product_of(judged(number), "millrace", TODAY) for number in range(shelf)], TODAY)


def at(*levels: float) -> RepView:
    view = RepEngine(THIGH, FRAME_S).view
    return replace(view, phase="effort", readable=True, activation=levels, level=levels, over=levels[0] > view.high)


def shown(picture: MillracePicture, canvas: Canvas, rules: MillraceRules, view: RepView, time_s: float) -> np.ndarray:
    picture.draw(canvas, rules, view, time_s)
    picture.settle()
    picture.draw(canvas, rules, view, time_s)
    return np.asarray(pygame.surfarray.array3d(canvas.surface)).astype(int)


# --- the picture
# --------------------------------------------------------------------------------------------------------
def test_water_and_sluice_keep_their_side_of_the_stones() -> None:
    assert surface_of(SILL) == SILL_Y and surface_of(MARK) == MARK_Y
    heights = [surface_of(share) for share in np.linspace(0, 1, 50)]
    assert (np.diff(heights) < 0).all()
    assert edge_of(0.0) == GATE_OPEN and edge_of(1.0) == SILL_Y
    assert (grain_top(1.0), grain_top(0.0)) == (337.0, 378.0) and flour_top(1.0) < flour_top(0.0)


def test_the_water_stands_where_effort_is(canvas: Canvas, picture: MillracePicture) -> None:
    """Found in the pixels of the forebay, as an eye would: where the dry picture becomes wet."""
    rules = mill()
    dry = shown(picture, canvas, rules, at(0.0, 0.0), 1.0)
    for effort in (0.12, 0.3, 0.55):
        view = at(effort, 0.0)
        rules = mill()
        for _ in range(60):
            rules.step(FRAME_S, view, [])
        wet = np.abs(shown(picture, canvas, rules, view, 1.0) - dry).sum(axis=2)
        column = wet[canvas.at((335, 0))[0] : canvas.at((345, 0))[0]].mean(axis=0) > 24
        top = np.flatnonzero(column[canvas.at((0, 300))[1] : canvas.at((0, 588))[1]])[0]
        assert 300 + top / canvas.scale == pytest.approx(surface_of(rules.water), abs=9)


def test_the_sluice_comes_down_with_the_opposite_muscle(canvas: Canvas, picture: MillracePicture) -> None:
    """Its white edge, in the pixels of its slot."""
    found = []
    for opposite in (0.0, 0.075, 0.15):
        rules, view = mill(), at(0.1, opposite)
        rules.step(FRAME_S, view, [])
        pixels = shown(picture, canvas, rules, view, 1.0)[canvas.at((488, 0))[0]]
        white = np.flatnonzero(pixels.min(axis=1) > 170)
        white = white[(white > canvas.at((0, 320))[1]) & (white < canvas.at((0, 436))[1])]
        found.append(white[0] / canvas.scale)
        assert found[-1] == pytest.approx(edge_of(rules.gate) - 10, abs=6)
    assert found[0] < found[1] < found[2]


def test_the_words_corner_is_calm(canvas: Canvas, picture: MillracePicture) -> None:
    """Where a screen writes, nothing of the work is to be seen, whatever both muscles do."""
    area = canvas.area(workshops()["millrace"].words)
    seen = []
    for levels in ((0.0, 0.0), (0.3, 0.02), (0.7, 0.02), (0.3, 0.4)):
        rules = mill()
        for _ in range(60):
            rules.step(FRAME_S, at(*levels), [])
        pixels = shown(picture, canvas, rules, at(*levels), 1.0)
        seen.append(pixels[area.left : area.right, area.top : area.bottom])
    assert max(np.abs(one - seen[0]).mean() for one in seen) < 0.5


def test_reduced_motion_keeps_the_water_and_stills_the_rest(canvas: Canvas, picture: MillracePicture) -> None:
    rules, view = mill(130), at(0.3, 0.02)
    for _ in range(60):
        rules.step(FRAME_S, view, [])
    shown(picture, canvas, rules, view, 2.0)
    assert (shown(picture, canvas, rules, view, 3.0) == shown(picture, canvas, rules, view, 4.7)).all()
    before = shown(picture, canvas, rules, view, 5.0)
    rules.step(FRAME_S, at(0.34, 0.02), [])
    assert (shown(picture, canvas, rules, at(0.34, 0.02), 5.0) != before).any()


def test_what_was_made_stands_by_the_mill(canvas: Canvas, picture: MillracePicture) -> None:
    """All sacks of the day find room under the roof, each at a place of its own; earlier ones stay on the board."""
    rules = mill(6)
    places = [picture._place(rules, number)[0] for number in range(rules.asked)]
    assert len(set(places)) == rules.asked == 24
    assert all(1070 <= x <= 1276 and 480 <= y <= 606 for x, y in places)
    before = shown(picture, canvas, mill(), at(0.0, 0.0), 6.0)
    for number in range(3):
        rules.step(FRAME_S, at(0.0, 0.0), [RepMade(judged(number))])
    for _ in range(120):
        rules.step(FRAME_S, at(0.0, 0.0), [])
    changed = np.abs(shown(picture, canvas, rules, at(0.0, 0.0), 6.0) - before).sum(axis=2) > 60
    for box in ((1074, 540, 100, 60), (1080, 446, 190, 38)):
        area = canvas.area(box)
        assert changed[area.left : area.right, area.top : area.bottom].mean() > 0.15


# --- sacks
# --------------------------------------------------------------------------------------------------------------
def sack(seed: int, profile: tuple[float, ...] = (), **figures: float) -> Product:
    return Product("millrace", seed, TODAY, {"steadiness": 0.95, "target_pct_mvc": 30.0, **figures}, profile)


def seen(product: Product, side: int = 64, drawn_at: int | None = None) -> np.ndarray:
    """On grey ground; drawn at another size and shrunk where told."""
    image, size = sack_image(product, drawn_at or side), sack_image(product, side).get_size()
    ground = pygame.Surface(size, 0, 32)
    ground.fill((90, 90, 90))
    ground.blit(pygame.transform.smoothscale(image, size), (0, 0))
    return np.asarray(pygame.surfarray.array3d(ground)).astype(int)


def hold(wobble: float) -> tuple[float, ...]:
    return (5.0, 18.0, *(30.0 + wobble * np.sin(np.arange(44) * 1.9)), 18.0, 5.0)


def test_no_two_sacks_are_alike(canvas: Canvas) -> None:
    pictures = [seen(sack(seed, hold(seed % 5))).tobytes() for seed in range(30)]
    assert len(set(pictures)) == 30


def test_a_sack_is_the_same_whenever_it_is_drawn_and_at_any_size(canvas: Canvas) -> None:
    first = seen(sack(7, hold(3)))
    sacks._sack_image.cache_clear()
    assert (seen(sack(7, hold(3))) == first).all()
    for seed in range(5):
        small, large, other = seen(sack(seed)), seen(sack(seed), drawn_at=256), seen(sack(seed + 50))
        assert np.abs(small - large).mean() < 0.6 * np.abs(small - other).mean()


def test_the_mark_is_the_effort_itself(canvas: Canvas) -> None:
    """A steady hold makes a round mark; a restless one a mark whose edge goes in and out."""
    spread = []
    for wobble in (0.0, 4.0):
        drawn = sacks._Sack(3, {"target_pct_mvc": 30.0}, hold(wobble))
        ring = np.asarray(drawn._ring((0.5, 0.5), 0.25, 0.0)) - 0.5
        spread.append(float(np.hypot(ring[:, 0], ring[:, 1])[8:-8].std()))
    assert spread[0] < 0.004 < 3 * spread[0] + 0.004 < spread[1]


def test_time_outside_the_band_costs_dots_and_unsteadiness_dusts_the_cloth(canvas: Canvas) -> None:
    clean = seen(sack(3, held_s=5.0, in_band_s=5.0), 128)
    assert (clean != seen(sack(3, held_s=10.0, in_band_s=5.0), 128)).any()
    dusty = seen(sack(3, held_s=5.0, in_band_s=5.0, steadiness=0.7), 128)
    assert (dusty.min(axis=2) > 235).sum() > (clean.min(axis=2) > 235).sum()


@pytest.mark.parametrize("side", [16, 44, 300])
def test_a_product_fills_its_box_and_stays_near_it(canvas: Canvas, side: int) -> None:
    canvas.surface.fill((1, 2, 3))
    box = Box(200, 100, side, side)
    for seed in range(4):
        draw_product(canvas, box, sack(seed, hold(2)))
    touched = (pygame.surfarray.array3d(canvas.surface) != (1, 2, 3)).any(axis=2)
    columns, rows = np.flatnonzero(touched.any(axis=1)), np.flatnonzero(touched.any(axis=0))
    room, area = canvas.length(side * 0.12) + 2, canvas.area(box)
    assert area.left - room <= columns[0] and columns[-1] <= area.right + room
    assert area.top - room <= rows[0] and rows[-1] <= area.bottom + room
    assert rows[-1] - rows[0] > area.height * 0.5


def test_every_stencil_lies_within_its_circle() -> None:
    for _, stencil in STENCILS:
        assert all(np.hypot(x, y) <= 1.3 for shape in stencil for x, y in shape)
        assert all(len(shape) >= 3 for shape in stencil)


def test_more_signs_are_cut_as_more_sacks_are_filled(canvas: Canvas) -> None:
    counts = [len(unlocked(count)) for count in (0, 12, 48, 110)]
    assert counts == [4, 6, 10, len(STENCILS)]
    early, late = (
        {id(sacks._Sack(seed, {"place": place}, ()).stencil) for seed in range(80)} for place in (0.0, 200.0)
    )
    assert len(early) == 4 and len(late) == len(STENCILS)
