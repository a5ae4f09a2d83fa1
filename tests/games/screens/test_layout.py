"""Nothing clipped, nothing on top of one another, everything large enough: in both languages, at every text size."""

from __future__ import annotations

import os
from collections.abc import Callable
from itertools import combinations

import pygame
import pytest
from musclewood.games.gallery.gallery import states
from musclewood.games.kit.canvas import HEIGHT, WIDTH, Box, Canvas
from musclewood.games.kit.settings import TEXT_SCALES, Settings
from musclewood.games.kit.widgets import Widget
from musclewood.games.screens.base.page import Page, Surroundings

# Screens, the last two as they are shown at 150 %: a small laptop, and 3840 x 2160.
ALL_SIZES = [(1024, 600), (1280, 720), (1366, 768), (911, 512), (2560, 1440)]
SIZES = ALL_SIZES if os.environ.get("MUSCLEWOOD_FULL") == "1" else ALL_SIZES[:2]
STAGE = Box(0, 0, WIDTH, HEIGHT)
LAYOUTS = [(language, scale) for language in ("en", "de") for scale in TEXT_SCALES]


@pytest.fixture(params=LAYOUTS, ids=lambda layout: f"{layout[0]}-{layout[1]}", scope="module")
def pages(request: pytest.FixtureRequest, anywhere: Callable[..., Surroundings]) -> list[tuple[str, Page]]:
    language, scale = request.param
    surroundings = anywhere(Settings(language=language, text_scale=scale))
    return [(name, make(surroundings)) for name, make in states().items()]


@pytest.fixture(params=SIZES, ids=lambda size: f"{size[0]}x{size[1]}", scope="module")
def target(request: pytest.FixtureRequest) -> Canvas:
    """All that is asked of a page is asked of the same layout, since laying out is what takes time."""
    return Canvas(pygame.Surface(request.param))


def test_text_fits_its_slip_and_the_slip_the_stage(pages: list[tuple[str, Page]], target: Canvas) -> None:
    for name, page in pages:
        for widget in page.lay_out(target):
            assert _inside(widget.box), f"{name}: {widget.key or widget.lines} leaves the stage: {widget.box}"
            assert target.surface.get_rect().contains(target.area(widget.box)), f"{name}: {widget.key} is out of sight"
            if widget.lines:
                across, down = page.theme.letters.measure(
                    target, list(widget.lines), widget.look.size, bold=widget.look.bold
                )
                assert across <= widget.box.width - 16, f"{name}: {widget.lines} is wider than its slip"
                assert down <= widget.box.height + 1, f"{name}: {widget.lines} is higher than its slip"


def test_what_is_read_or_chosen_does_not_overlap(pages: list[tuple[str, Page]], target: Canvas) -> None:
    for name, page in pages:
        solid = [widget for widget in page.lay_out(target) if _solid(widget)]
        for one, other in combinations(solid, 2):
            assert not one.box.grown(-3).overlaps(other.box.grown(-3)), (
                f"{name}: {one.key or one.lines} and {other.key or other.lines} overlap"
            )


def test_targets_are_comfortable(pages: list[tuple[str, Page]], target: Canvas) -> None:
    for name, page in pages:
        page.lay_out(target)
        for widget in page.choices():
            assert min(widget.box.width, widget.box.height) >= 44, f"{name}: {widget.key} is too small"


def test_text_is_never_smaller_than_24(pages: list[tuple[str, Page]], target: Canvas) -> None:
    for name, page in pages:
        for widget in page.lay_out(target):
            if widget.lines:
                assert widget.look.size * page.theme.settings.text_scale >= 24, f"{name}: {widget.lines}"


def _solid(widget: Widget) -> bool:
    """Slips, tags and boards; not the places of the landscape, nor what is written on a card."""
    return not widget.bare and widget.look.shape != "panel"


def _inside(box: Box) -> bool:
    return box.left >= 0 and box.top >= 0 and box.right <= STAGE.right and box.bottom <= STAGE.bottom
