"""Every page of the desk: nothing clipped, nothing on top of one another, large enough, dark enough, reachable.

What a page writes is caught as it is written, so that words inside rows and cells are measured like any others.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
import pygame
import pytest
from musclewood.games.desk.gallery import desk_states
from musclewood.games.desk.settings import DeskSettingsPage
from musclewood.games.kit.canvas import HEIGHT, WIDTH, Box, Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.palette import contrast
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.typeface import Typeface
from musclewood.games.screens.page import Page, Surroundings

LAYOUTS = [(language, scale) for language in ("en", "de") for scale in (1.0, 1.2)]
STAGE = Box(0, 0, WIDTH, HEIGHT)
DRAWN = (
    "desk-patients",
    "desk-patient",
    "desk-form-exercise-faulty",
    "desk-sign",
    "desk-new-patient",
    "desk-first-day",
)


@dataclass(frozen=True)
class Written:
    """One block of text as it was set."""

    text: str
    box: Box
    size: float


@contextmanager
def caught(page: Page) -> Iterator[list[Written]]:
    """All that is written meanwhile."""
    found: list[Written] = []
    usual = Typeface.write

    def write(self: Typeface, canvas: Canvas, lines: Any, point: Any, size: float, colour: Any, **how: Any) -> None:
        block = [lines] if isinstance(lines, str) else list(lines)
        across, down = self.measure(canvas, block, size, bold=how.get("bold", False))
        anchor = how.get("anchor", "topleft")
        left = point[0] - (across if "right" in anchor else 0 if "left" in anchor else across / 2)
        top = point[1] - (down if "bottom" in anchor else 0 if "top" in anchor else down / 2)
        found.append(Written(" / ".join(block), Box(left, top, across, down), size * self.text_scale))
        usual(self, canvas, lines, point, size, colour, **how)

    Typeface.write = write  # type: ignore[method-assign]
    try:
        yield found
    finally:
        Typeface.write = usual  # type: ignore[method-assign]


@pytest.fixture(params=LAYOUTS, ids=lambda layout: f"{layout[0]}-{layout[1]}")
def pages(request: pytest.FixtureRequest, around: Callable[..., Surroundings]) -> list[tuple[str, Page]]:
    language, scale = request.param
    surroundings = around(Settings(language=language, text_scale=scale), (640, 360))
    return [(name, make(surroundings)) for name, make in desk_states().items()]


def test_words_fit_their_paper_and_nothing_overlaps(
    pages: list[tuple[str, Page]], canvas: Callable[[int, int], Canvas]
) -> None:
    target, problems = canvas(640, 360), []
    for name, page in pages:
        everything: list[Written] = []
        for widget in page.lay_out(target):
            if not _within(widget.box, STAGE):
                problems.append(f"{name}: {widget.key or widget.lines} leaves the stage: {widget.box}")
            with caught(page) as written:
                widget.draw(target, page.reader)
            for one in written:
                if not _within(one.box, widget.box.grown(5)):
                    problems.append(f"{name}: {one.text!r} leaves {widget.key or 'its paper'}")
                if one.size < 20:
                    problems.append(f"{name}: {one.text!r} is too small")
            everything += written
        for one, other in combinations(everything, 2):
            if one.box.grown(-4).overlaps(other.box.grown(-4)):
                problems.append(f"{name}: {one.text!r} lies on {other.text!r}")
    assert not problems, "\n".join(problems)


def test_targets_are_large_and_apart(pages: list[tuple[str, Page]], canvas: Callable[[int, int], Canvas]) -> None:
    for name, page in pages:
        page.lay_out(canvas(640, 360))
        for widget in page.choices():
            assert min(widget.box.width, widget.box.height) >= 44, f"{name}: {widget.key} is too small"
        for one, other in combinations(page.choices(), 2):
            assert not one.box.grown(-1).overlaps(other.box.grown(-1)), f"{name}: {one.key} and {other.key} overlap"


@pytest.mark.parametrize("name", DRAWN)
@pytest.mark.parametrize("high_contrast", [False, True])
def test_words_stand_out_seven_to_one(
    canvas: Callable[[int, int], Canvas], around: Callable[..., Surroundings], name: str, high_contrast: bool
) -> None:
    """Measured on the rendered picture: the darkest of the letters against the paper round them."""
    target = canvas(1280, 720)
    page = desk_states()[name](around(Settings(high_contrast=high_contrast)))
    page.lay_out(target)
    with caught(page) as written:
        page.draw(target)
    assert written
    for one in (block for block in written if block.box.width >= 1):
        area = target.area(one.box).clip(target.surface.get_rect())
        pixels = pygame.surfarray.array3d(target.surface.subsurface(area)).reshape(-1, 3)
        order = np.argsort(pixels.sum(axis=1))
        ink = tuple(int(part) for part in pixels[order[len(order) // 100]])
        ground = tuple(int(part) for part in np.percentile(pixels, 60, axis=0))
        assert contrast(ink, ground) >= 7.0, f"{name}: {one.text!r} has {contrast(ink, ground):.1f}"


@pytest.fixture(params=desk_states(), ids=str)
def page(request: pytest.FixtureRequest, around: Callable[..., Surroundings], canvas: Callable[..., Canvas]) -> Page:
    made = desk_states()[request.param](around(size=(640, 360)))
    made.lay_out(canvas(640, 360))
    return made


def test_tab_comes_to_every_choice_and_back(page: Page, canvas: Callable[..., Canvas]) -> None:
    target = canvas(640, 360)
    wanted = {widget.key for widget in page.choices()}
    for act in (Act.NEXT, Act.PREVIOUS):
        seen = set()
        for _ in range(120):
            page.handle(Intent(act))
            page.lay_out(target)
            seen.add(page.focus)
        assert wanted <= seen


def test_every_page_can_be_left_by_escape(page: Page) -> None:
    if "leave" in {widget.key for widget in page.choices()}:
        return  # the first page: Escape goes to the tag that leaves
    if {"yes", "no"} <= {widget.key for widget in page.choices()}:
        return  # a question that wants its answer
    for _ in range(4):
        if page.handle(Intent(Act.BACK)) is not None:
            return
    raise AssertionError("cannot be left")


def test_the_settings_are_those_of_home_on_the_desk(around: Callable[..., Surroundings]) -> None:
    page = desk_states()["desk-settings"](around())
    assert isinstance(page, DeskSettingsPage) and page.scene.hour == "dawn"


def _within(inner: Box, outer: Box) -> bool:
    return (
        inner.left >= outer.left
        and inner.right <= outer.right
        and inner.top >= outer.top
        and inner.bottom <= outer.bottom
    )
