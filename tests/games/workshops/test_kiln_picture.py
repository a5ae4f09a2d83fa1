"""What the kiln looks like: readable from the picture alone, no two pots alike."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
import pygame
import pytest
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops import PictureSetup, workshops
from musclewood.games.workshops.kiln import forms, glazes, pots
from musclewood.games.workshops.kiln.fire import stones_top, tip_of
from musclewood.games.workshops.kiln.picture import KilnPicture
from musclewood.games.workshops.kiln.pots import draw_product, pot_image

Build = Callable[..., Any]
SMALL = (640, 360)


@pytest.fixture
def canvas() -> Iterator[Canvas]:
    pygame.display.init()
    yield Canvas(pygame.display.set_mode(SMALL))
    pygame.display.quit()


def pot(number: int, steadiness: float = 0.95, first: int = 300, profile: tuple[float, ...] = ()) -> Product:
    """One of many in a row on the shelf, the first of them at place `first`."""
    figures = {"steadiness": steadiness, "place": float(first + number), "target_pct_mvc": 40.0}
    return Product("kiln", number, date(2026, 11, 25), figures, profile)


def seen(product: Product, side: int = 64, drawn_at: int | None = None) -> np.ndarray:
    """On grey ground, `side` pixels plus its margin; drawn at another size and shrunk where told."""
    image = pot_image(product, drawn_at or side)
    size = pot_image(product, side).get_size()
    ground = pygame.Surface(size, 0, 32)
    ground.fill((90, 90, 90))
    ground.blit(pygame.transform.smoothscale(image, size), (0, 0))
    return pygame.surfarray.array3d(ground).astype(int)


def hold(*efforts: float) -> tuple[float, ...]:
    return (5.0, 20.0, *np.interp(np.linspace(0, 1, 44), np.linspace(0, 1, len(efforts)), efforts), 20.0, 5.0)


# --- pots
# ---------------------------------------------------------------------------------------------------------------
def test_no_two_pots_are_alike() -> None:
    pictures = [seen(pot(seed, 0.9, 60, hold(40, 41, 39 + seed % 3))).tobytes() for seed in range(60)]
    assert len(set(pictures)) == 60


def test_a_pot_is_the_same_whenever_it_is_drawn_and_at_any_size() -> None:
    first = seen(pot(7))
    pots._pot_image.cache_clear()
    assert (seen(pot(7)) == first).all()
    for seed in range(5):
        small, large, other = seen(pot(seed)), seen(pot(seed), drawn_at=256), seen(pot(seed + 50))
        assert np.abs(small - large).mean() < 0.6 * np.abs(small - other).mean()


def test_effort_over_time_is_the_wall_from_foot_to_lip() -> None:
    form = forms.FORMS[1]
    plain = forms.wall_of(form, np.asarray(hold(40, 40)), 40.0, 64)
    rising = forms.wall_of(form, np.asarray(hold(34, 46)), 40.0, 64)
    assert plain == pytest.approx(forms.wall_of(form, np.empty(0), 0.0, 64), rel=1e-6)
    assert rising[2] < plain[2] and rising[-2] > plain[-2]


def test_an_unsteady_hold_runs_and_speckles_more() -> None:
    around, _ = np.meshgrid(np.linspace(-1.5, 1.5, 200), np.linspace(0, 1, 200))
    runs = [
        np.mean([glazes.runs(np.random.default_rng(s), around, even).mean() for s in range(12)]) for even in (1.0, 0.0)
    ]
    assert runs[1] > 2 * runs[0]
    assert (seen(pot(3, 0.97)) != seen(pot(3, 0.75))).any()


def test_the_shelf_grows_richer_with_what_is_made_and_with_nothing_else() -> None:
    counts = [(len(forms.unlocked(count)), len(glazes.unlocked(count))) for count in (0, 30, 100, 300)]
    assert counts == sorted(counts) and len(set(counts)) == 4
    assert counts[0][0] >= 3 and counts[0][1] >= 3
    assert counts[-1] == (len(forms.FORMS), len(glazes.GLAZES))


@pytest.mark.parametrize("side", [16, 44, 300])
def test_a_product_fills_its_box_and_stays_near_it(canvas: Canvas, side: int) -> None:
    canvas.surface.fill((1, 2, 3))
    box = Box(200, 100, side, side)
    for seed in range(4):
        draw_product(canvas, box, pot(seed))
    touched = (pygame.surfarray.array3d(canvas.surface) != (1, 2, 3)).any(axis=2)
    columns, rows = np.flatnonzero(touched.any(axis=1)), np.flatnonzero(touched.any(axis=0))
    room = canvas.length(side * 0.12) + 2
    area = canvas.area(box)
    assert area.left - room <= columns[0] and columns[-1] <= area.right + room
    assert area.top - room <= rows[0] and rows[-1] <= area.bottom + room
    assert rows[-1] - rows[0] > area.height * 0.5


# --- the picture
# --------------------------------------------------------------------------------------------------------
def picture_for(canvas: Canvas, *, still: bool = False) -> KilnPicture:
    made = workshops()["kiln"].picture()(PictureSetup(PaperBox(canvas.scale), still))
    assert isinstance(made, KilnPicture)
    return made


def test_the_flames_tip_stands_where_effort_is(canvas: Canvas, evening: Build) -> None:
    """Found in the pixels of the flue's middle, as an eye would."""
    played = evening("steady")
    view = next(view for view, _ in played.frames() if view.phase == "effort" and view.held_s > 0.5)
    picture = picture_for(canvas, still=True)
    for effort in (0.25, 0.4, 0.6):
        shown = replace(view, activation=(effort,), level=(effort,), in_band=False)
        played.rules.step(1.0, shown, [])
        picture.draw(canvas, played.rules, shown, 1.0)
        middle = pygame.surfarray.array3d(canvas.surface)[canvas.at((640, 0))[0]].astype(int)
        fire = np.flatnonzero((middle[:, 0] > 190) & (middle[:, 0] - middle[:, 2] > 90))
        inside = fire[fire > canvas.at((0, 190))[1]]
        assert inside[0] / canvas.scale == pytest.approx(tip_of(played.rules.flame), abs=10)


def test_the_stones_glow_from_the_ground_to_the_flue() -> None:
    tops = [stones_top(share) for share in np.linspace(0, 1, 30)]
    assert (np.diff(tops) < 0).all()
    assert tops[0] == 634.0 and tops[-1] == pytest.approx(436.0, abs=3)


def test_the_words_corner_is_calm(canvas: Canvas, evening: Build) -> None:
    """Where a screen writes, hardly anything moves during a hold."""
    played, picture = evening("steady", hold_s=6.0), picture_for(canvas, still=True)
    left, top, width, height = workshops()["kiln"].words
    area, frames = canvas.area((left, top, width, height)), []
    for view, time_s in played.frames(4.0):
        picture.draw(canvas, played.rules, view, time_s)
        frames.append(pygame.surfarray.array3d(canvas.surface.subsurface(area)).astype(int).mean())
    assert max(frames[60:]) - min(frames[60:]) < 3.0


def test_reduced_motion_keeps_the_flame_and_stills_the_rest(canvas: Canvas, evening: Build) -> None:
    played, picture = evening("steady"), picture_for(canvas, still=True)
    view = next(view for view, _ in played.frames() if view.held_s > 1.0)
    picture.draw(canvas, played.rules, view, 1.0)
    picture.settle()

    def drawn(time_s: float) -> np.ndarray:
        picture.draw(canvas, played.rules, view, time_s)
        return pygame.surfarray.array3d(canvas.surface)

    assert (drawn(2.0) == drawn(3.7)).all()
    before = drawn(4.0)
    played.rules.step(1 / 60, replace(view, activation=(view.high,)), [])
    assert (drawn(5.0) != before).any()


@pytest.mark.parametrize("still", [False, True])
def test_a_pot_on_its_way_covers_nothing_but_itself(canvas: Canvas, evening: Build, still: bool) -> None:
    """Its picture's corners stay clear after it was faded or carried to the shelf."""
    played, picture = evening("steady", sets=1, reps=1, rest_s=0.5), picture_for(canvas, still=still)
    for number, (view, time_s) in enumerate(played.frames()):
        if number % 8 == 0:
            picture.draw(canvas, played.rules, view, time_s)
            picture.settle()
    played.rules.step(0.3, view, [])
    picture.draw(canvas, played.rules, view, 100.0)
    ground = pygame.Surface((120, 120), 0, 32)
    foot, side = picture._place(played.rules, 0)
    image = picture._pots.image(played.rules.made[0], canvas.length(side))
    picture.settle()
    image = image or picture._pots.image(played.rules.made[0], canvas.length(side))
    assert image is not None
    ground.fill((250, 250, 250))
    ground.blit(image, (0, 0))
    assert ground.get_at((0, 0))[:3] == (250, 250, 250)
    assert foot[0] > 880
