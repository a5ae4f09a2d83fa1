"""What the loom looks like: readable from the picture alone, no two bands alike, nothing that flashes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from functools import cache

import numpy as np
import pygame
import pytest
from musclewood.games.engine.rep_events import Reading, RepView
from musclewood.games.engine.reps import RepEngine
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.paper import PaperBox
from musclewood.games.workshops import PictureSetup, workshops
from musclewood.games.workshops.loom import bands
from musclewood.games.workshops.loom.bands import band_image, draw_product, heights_of
from musclewood.games.workshops.loom.designs import REACH, unlocked
from musclewood.games.workshops.loom.rules import LoomRules
from musclewood.games.workshops.loom.warp import MIDDLE, edge_x, row_y
from musclewood.profiles.plan.dose import PlannedExercise

SIZES = ((480, 270), (560, 315))
BOXES: dict[float, PaperBox] = {}
PATTERN = (0.4, 1.0, 0.5)
PLAN = PlannedExercise(
    "wave", "track", "Follow", ("loom",), (0,), 1, 2, 2.0, 1.0, 1.0, 30.0, 6.0, 60.0, 8.0, pattern=PATTERN
)
DAY = date(2026, 11, 25)


@pytest.fixture
def canvas() -> Iterator[Canvas]:
    pygame.display.init()
    yield Canvas(pygame.display.set_mode(SIZES[0]))
    pygame.display.quit()


def band(seed: int, place: int = 0, profile: tuple[float, ...] = (), steadiness: float = 0.97) -> Product:
    figures = {"target_pct_mvc": 30.0, "steadiness": steadiness, "place": float(place)}
    return Product("loom", seed, DAY, figures, profile)


def hill(wobble: float = 0.0) -> tuple[float, ...]:
    way = np.interp(np.linspace(0, 1, 48), np.linspace(0, 1, 3), PATTERN)
    return tuple((30 * way * (1 + wobble * np.sin(np.arange(48) * 1.3))).tolist())


def seen(product: Product, side: int = 64, drawn_at: int | None = None) -> np.ndarray:
    """On grey ground; drawn at another size and shrunk where told."""
    size = band_image(product, side).get_size()
    ground = pygame.Surface(size, 0, 32)
    ground.fill((90, 90, 90))
    ground.blit(pygame.transform.smoothscale(band_image(product, drawn_at or side), size), (0, 0))
    return pygame.surfarray.array3d(ground).astype(int)


# --- bands
# --------------------------------------------------------------------------------------------------------------
def test_every_deviation_shows_and_no_two_bands_are_alike() -> None:
    pictures = {seen(band(seed, seed, hill(0.01 * (seed % 5)))).tobytes() for seed in range(24)}
    assert len(pictures) == 24
    changed = [np.abs(seen(band(1, 0, hill(w))) - seen(band(1, 0, hill()))).mean() for w in (0.05, 0.15, 0.3)]
    assert 0 < changed[0] < changed[1] < changed[2]
    assert (seen(band(1, 0, hill(), 0.8)) != seen(band(1, 0, hill(), 0.97))).any()  # it frays


def test_a_band_is_the_same_whenever_it_is_drawn_and_at_any_size() -> None:
    first = seen(band(7, 12, hill()))
    bands._band_image.cache_clear()
    assert (seen(band(7, 12, hill())) == first).all()
    small, large = seen(band(3, 0, hill())), seen(band(3, 0, hill()), drawn_at=200)
    assert np.abs(small - large).mean() < 0.6 * np.abs(small - seen(band(3, 1, hill()))).mean()


def test_a_band_is_as_wide_as_the_effort_was() -> None:
    assert heights_of((), 30.0) == pytest.approx(1 / REACH)
    assert heights_of(hill(), 30.0)[[0, -1]] * REACH == pytest.approx([0.4, 0.5], abs=0.01)


def test_a_shelf_knows_bands_by_nothing_but_what_the_journal_keeps() -> None:
    bare = Product("loom", 12345, DAY, {"target_pct_mvc": 30.0, "steadiness": 0.9, "place": 0.0}, hill())
    assert (seen(bare) != 90).any()
    assert all(len(part) >= 2 for part in unlocked(0))


@pytest.mark.parametrize("side", [16, 44, 200])
def test_a_product_fills_its_box_and_stays_near_it(canvas: Canvas, side: int) -> None:
    canvas.surface.fill((1, 2, 3))
    draw_product(canvas, Box(200, 100, side, side), band(2, 3, hill()))
    touched = (pygame.surfarray.array3d(canvas.surface) != (1, 2, 3)).any(axis=2)
    columns, rows = np.flatnonzero(touched.any(axis=1)), np.flatnonzero(touched.any(axis=0))
    area, room = canvas.area((200, 100, side, side)), canvas.length(side * 0.12) + 2
    assert area.left - room <= columns[0] and columns[-1] <= area.right + room
    assert area.top - room <= rows[0] and rows[-1] <= area.bottom + room
    assert rows[-1] - rows[0] > area.height * 0.7


# --- the picture
# --------------------------------------------------------------------------------------------------------
@cache
def evening() -> tuple[tuple[RepView, LoomRules], ...]:
    """One view of each phase, with rules that have come so far."""
    found: dict[str, tuple[RepView, LoomRules]] = {}
    engine, rules, level = RepEngine(PLAN, 1 / 60), LoomRules(PLAN, 3, [band(0, 0, hill())], DAY), 0.0
    for _ in range(1200):
        view = engine.view
        ahead = float(np.interp(view.effort_s + 0.2, (0, 1, 2), PATTERN))
        level += ((0.3 * ahead if view.phase == "effort" else 0.0) - level) / 60 / 0.08
        rules.step(1 / 60, engine.view, engine.step(Reading((level,), (level > 0.08,))))
        if view.phase not in found or (view.phase == "effort" and view.effort_s < 1.2):
            found[view.phase] = (engine.view, rules)
        if engine.done:
            break
    return tuple(found.values())


def picture_for(canvas: Canvas, *, still: bool = False):  # type: ignore[no-untyped-def]
    box = BOXES.setdefault(canvas.scale, PaperBox(canvas.scale))
    return workshops()["loom"].picture()(PictureSetup(box, still))


@pytest.mark.parametrize("size", SIZES)
def test_every_phase_is_drawn_and_effort_moves_the_shuttle(canvas: Canvas, size: tuple[int, int]) -> None:
    """Found in the pixels at the batten, as an eye would: the bobbin in the right-hand shuttle."""
    canvas = Canvas(pygame.display.set_mode(size))
    picture, phases = picture_for(canvas, still=True), evening()
    assert {view.phase for view, _ in phases} >= {"ready", "effort", "rest"}
    for view, rules in phases:
        picture.draw(canvas, rules, view, 1.0)
    view, rules = next((view, rules) for view, rules in phases if view.phase == "effort")
    found, meant = [], []
    for effort in (0.05, 0.15, 0.3):
        rules.step(1e-6, replace(view, activation=(effort,), effort_s=1.0), [])
        picture.draw(canvas, rules, view, 1.0)
        middle, row = canvas.at((MIDDLE, row_y(1.0 / PLAN.hold_s)))
        strip = pygame.surfarray.array3d(canvas.surface)[middle:, row].astype(int)
        bobbin = np.flatnonzero(np.abs(strip - rules.design.yarn.line).max(axis=1) < 4)  # indigo's orange: nowhere else
        found.append(float((middle + bobbin.mean()) / canvas.scale))
        meant.append(edge_x(rules.shuttle, 1) + 38.0)
    assert found == pytest.approx(meant, abs=5)


def test_the_whole_figure_is_in_the_warp_while_one_waits(canvas: Canvas) -> None:
    picture = picture_for(canvas, still=True)
    view, _ = next(found for found in evening() if found[0].phase == "ready")
    picture.draw(canvas, LoomRules(PLAN, 3, [], DAY), view, 0.0)
    for share in (0.3, 0.5, 0.8):  # from the first rows to the last
        y = row_y(share)
        shown = pygame.surfarray.array3d(canvas.surface.subsurface(canvas.area((490.0, y, 300.0, 6.0)))).astype(int)
        dyed = (shown[:, :, 0] - shown[:, :, 2] > 50).mean()
        assert 0.1 < dyed < 0.9, share  # the dyed figure, and undyed warp round it


def test_reduced_motion_keeps_the_shuttle_and_stills_the_rest(canvas: Canvas) -> None:
    picture = picture_for(canvas, still=True)
    view, rules = next((view, rules) for view, rules in evening() if view.phase == "effort")
    picture.draw(canvas, rules, view, 0.5)
    picture.settle()

    def drawn(time_s: float) -> np.ndarray:
        picture.draw(canvas, rules, view, time_s)
        return pygame.surfarray.array3d(canvas.surface)

    assert (drawn(2.0) == drawn(3.7)).all()
    before = drawn(4.0)
    rules.step(1e-6, replace(view, activation=(view.high * 0.5,), effort_s=1.0), [])
    assert (drawn(5.0) != before).any()
