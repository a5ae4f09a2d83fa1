"""What the hide looks like: readable from the picture alone, no two pages alike, calm where words stand."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import numpy as np
import pygame
import pytest
from musclewood.games.engine.rep_events import RepView
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops import PictureSetup, workshops
from musclewood.games.workshops.hide import sketches
from musclewood.games.workshops.hide.animals import way
from musclewood.games.workshops.hide.rules import HideRules
from musclewood.games.workshops.hide.sketches import draw_lines, draw_product, page_image, strokes_of
from musclewood.games.workshops.hide.stalk import tip_of, turn_of
from musclewood.games.workshops.hide.visitors import VISITORS, Visitor
from musclewood.profiles.plan.dose import PlannedExercise

SIZES = ((320, 180), (480, 270))
BOXES: dict[float, PaperBox] = {}
PLAN = PlannedExercise("neck", "relax", "Be quiet", ("hide",), (0,), 1, 2, 4.0, 1.0, 1.0, 6.0, 1.0, 25.0, 6.0)
DAY = date(2026, 11, 25)
VIEW = RepView(
    kind="relax", phase="effort", set_number=1, sets=1, rep_number=1, reps=2, made=0, hold_s=4.0, held_s=2.0,
    effort_s=2.0, left_s=0.0, activation=(0.01,), level=(0.01,), target=0.06, low=0.05, high=0.07, ceiling=0.25,
    in_band=False, over=False, quiet=True, readable=True, last_verdict=None, quiet_below=0.06,
)  # fmt: skip
PHASES = {
    "ready": replace(VIEW, phase="ready", held_s=0.0, left_s=1.0),
    "effort": VIEW,
    "stirred": replace(VIEW, activation=(0.15,), level=(0.15,)),
    "rest": replace(VIEW, phase="rest", left_s=3.0),
    "done": replace(VIEW, phase="done"),
}


@pytest.fixture
def canvas() -> Iterator[Canvas]:
    pygame.display.init()
    yield Canvas(pygame.display.set_mode(SIZES[0]))
    pygame.display.quit()


def page(seed: int, place: int = 0, profile: tuple[float, ...] = (1.0,) * 48) -> Product:
    return Product("hide", seed, DAY, {"target_pct_mvc": 6.0, "place": float(place)}, profile)


def seen(product: Product, side: int = 80) -> np.ndarray:
    image = page_image(product, side)
    ground = pygame.Surface(image.get_size(), 0, 32)
    ground.fill((90, 90, 90))
    ground.blit(image, (0, 0))
    return pygame.surfarray.array3d(ground).astype(int)


def after(view: RepView, seconds: float = 4.0) -> HideRules:
    rules = HideRules(PLAN, 3, [page(n, n) for n in range(3)], DAY)
    for _ in range(round(seconds * 30)):
        rules.step(1 / 30, view, [])
    return rules


# --- pages
# --------------------------------------------------------------------------------------------------------------
def test_no_two_pages_are_alike_and_each_is_always_the_same() -> None:
    pictures = {seen(page(seed, seed * 5, (1.0 + 0.1 * (seed % 3),) * 48)).tobytes() for seed in range(16)}
    assert len(pictures) == 16
    first = seen(page(3))
    sketches._page_image.cache_clear()
    assert (seen(page(3)) == first).all()


def test_a_muscle_that_stirred_draws_with_a_trembling_hand() -> None:
    calm = seen(page(1, 0, (0.0,) * 48))
    changed = [np.abs(seen(page(1, 0, (level,) * 48)) - calm).mean() for level in (1.0, 4.0, 12.0)]
    assert changed[0] < changed[1] < changed[2]


def test_pages_grow_richer_with_the_weeks() -> None:
    def colours(place: int) -> float:
        return float(np.mean([np.ptp(seen(page(seed, place)), axis=2).mean() for seed in range(3)]))

    assert colours(100) > colours(0)


@pytest.mark.parametrize("visitor", VISITORS, ids=lambda visitor: visitor.name)
def test_every_visitor_has_a_sketch_that_grows_line_by_line(visitor: Visitor) -> None:
    assert len(strokes_of(visitor.name)) >= 10
    leaf, ink = pygame.Surface((90, 90), pygame.SRCALPHA, 32), []
    for before, share in ((0.0, 0.2), (0.2, 0.6), (0.6, 1.0)):
        tip = draw_lines(leaf, visitor, share, lambda _: 0.3, since=before)
        ink.append((pygame.surfarray.array_alpha(leaf) > 0).sum())
        assert 0.0 < tip[0] < 1.0 and 0.0 < tip[1] < 1.0
    assert 20 < ink[0] < ink[1] < ink[2]
    whole = pygame.Surface((90, 90), pygame.SRCALPHA, 32)
    draw_lines(whole, visitor, 1.0, lambda _: 0.3)
    assert (pygame.surfarray.array_alpha(whole) == pygame.surfarray.array_alpha(leaf)).all()


@pytest.mark.parametrize("side", [16, 44, 200])
def test_a_product_fills_its_box_and_stays_near_it(canvas: Canvas, side: int) -> None:
    canvas.surface.fill((1, 2, 3))
    draw_product(canvas, Box(200, 100, side, side), page(2))
    touched = (pygame.surfarray.array3d(canvas.surface) != (1, 2, 3)).any(axis=2)
    columns, rows = np.flatnonzero(touched.any(axis=1)), np.flatnonzero(touched.any(axis=0))
    area, room = canvas.area((200, 100, side, side)), canvas.length(side * 0.12) + 2
    assert area.left - room <= columns[0] and columns[-1] <= area.right + room
    assert area.top - room <= rows[0] and rows[-1] <= area.bottom + room
    assert rows[-1] - rows[0] > area.height * 0.7


# --- the picture
# --------------------------------------------------------------------------------------------------------
def picture_for(canvas: Canvas, *, still: bool = False):  # type: ignore[no-untyped-def]
    box = BOXES.setdefault(canvas.scale, PaperBox(canvas.scale))
    return workshops()["hide"].picture()(PictureSetup(box, still))


def test_more_effort_never_bends_the_stalk_back() -> None:
    turns, tips = [turn_of(bend) for bend in np.linspace(0, 3, 13)], [tip_of(bend) for bend in np.linspace(0, 3, 13)]
    assert (np.diff(turns) < 0).all() and (np.diff([x for x, _ in tips]) > 0).all()
    assert tip_of(0.0)[0] > 560 and tip_of(1.0)[0] < 702 < tip_of(1.6)[0]  # the reeds stand at 558 and 702


def test_animals_come_nearer_and_lower_in_the_picture() -> None:
    places = [way(share) for share in np.linspace(0, 1, 20)]
    assert (np.diff([y for _, y in places]) > 0).all() and (np.diff([x for x, _ in places]) < 0).all()


@pytest.mark.parametrize("size", SIZES)
def test_every_phase_is_drawn_and_effort_moves_the_stalk(canvas: Canvas, size: tuple[int, int]) -> None:
    canvas = Canvas(pygame.display.set_mode(size))
    picture, drawn = picture_for(canvas, still=True), {}
    for name, view in PHASES.items():
        rules = after(view)
        picture.draw(canvas, rules, view, 1.0)
        picture.settle()
        picture.draw(canvas, rules, view, 1.0)
        drawn[name] = pygame.surfarray.array3d(canvas.surface).astype(int)
    bells = canvas.area((700.0, 400.0, 90.0, 110.0))  # beyond the second reed
    beyond = [drawn[name][bells.left : bells.right, bells.top : bells.bottom] for name in ("effort", "stirred")]
    assert (np.abs(beyond[1] - beyond[0]).sum(axis=2) > 60).mean() > 0.04
    assert all((drawn[name] != drawn["effort"]).any() for name in ("ready", "rest"))


def test_the_words_corner_is_calm_and_reduced_motion_stills_all_but_the_muscle(canvas: Canvas) -> None:
    picture, rules = picture_for(canvas, still=True), after(VIEW)
    picture.draw(canvas, rules, VIEW, 0.5)
    picture.settle()

    def drawn(time_s: float) -> np.ndarray:
        picture.draw(canvas, rules, VIEW, time_s)
        return pygame.surfarray.array3d(canvas.surface).astype(int)

    assert (drawn(2.0) == drawn(3.7)).all()
    before = drawn(4.0)
    rules.step(1e-6, replace(VIEW, activation=(0.1,)), [])
    now, area = drawn(5.0), canvas.area(workshops()["hide"].words)
    assert (now != before).any()
    assert (
        now[area.left : area.right, area.top : area.bottom] == before[area.left : area.right, area.top : area.bottom]
    ).all()
