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
from musclewood.games.desk.pages.settings import DeskSettingsPage
from musclewood.games.gallery.desk import desk_states
from musclewood.games.kit.canvas import HEIGHT, WIDTH, Box, Canvas
from musclewood.games.kit.controls import Act, Intent
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.typeface import Typeface
from musclewood.games.kit.widgets import Widget
from musclewood.games.screens.base.page import Page, Surroundings

from tests.games.contrast import contrast

# Longer words and larger letters need the most room; the full size lays out every language at every size of letters.
LAYOUTS = [("de", 1.0), ("en", 1.2), ("de", 1.2)]
MORE_LAYOUTS = [("en", 1.0)]
STAGE = Box(0, 0, WIDTH, HEIGHT)
DRAWN = [("desk-patients", False), ("desk-form-exercise-faulty", False), ("desk-sign", True)]
WALKED = (
    *("desk-patients", "desk-patient", "desk-new-patient", "desk-form-exercise", "desk-form-plan", "desk-sign"),
    *("desk-key", "desk-muscles", "desk-collect", "desk-issued", "desk-collect-new-computer"),
)


@dataclass(frozen=True)
class Written:
    """One block of text as it was set."""

    text: str
    box: Box
    size: float


@contextmanager
def caught(page: Page) -> Iterator[list[Written]]:
    """All that is written meanwhile, each where it stands: on the page, not on the picture that is kept of a widget."""
    found: list[Written] = []
    usual, as_one = Typeface.write, Widget.draw

    def write(self: Typeface, canvas: Canvas, lines: Any, point: Any, size: float, colour: Any, **how: Any) -> None:
        block = [lines] if isinstance(lines, str) else list(lines)
        across, down = self.measure(canvas, block, size, bold=how.get("bold", False))
        anchor = how.get("anchor", "topleft")
        left = point[0] - (across if "right" in anchor else 0 if "left" in anchor else across / 2)
        top = point[1] - (down if "bottom" in anchor else 0 if "top" in anchor else down / 2)
        found.append(Written(" / ".join(block), Box(left, top, across, down), size * self.text_scale))
        usual(self, canvas, lines, point, size, colour, **how)

    Typeface.write = write  # type: ignore[method-assign]
    Widget.draw = Widget._draw  # type: ignore[method-assign]
    try:
        yield found
    finally:
        Typeface.write = usual  # type: ignore[method-assign]
        Widget.draw = as_one  # type: ignore[method-assign]


@pytest.mark.parametrize("layout", [*LAYOUTS, *MORE_LAYOUTS], ids=lambda layout: f"{layout[0]}-{layout[1]}")
def test_words_fit_their_paper_targets_are_large_and_nothing_overlaps(
    layout: tuple[str, float],
    around: Callable[..., Surroundings],
    canvas: Callable[[int, int], Canvas],
    full: bool,
) -> None:
    if layout in MORE_LAYOUTS and not full:
        pytest.skip("laid out under MUSCLEWOOD_FULL=1")
    surroundings = around(Settings(language=layout[0], text_scale=layout[1]), (640, 360))
    problems = [
        problem
        for name, make in desk_states().items()
        for problem in _problems(name, make(surroundings), canvas(640, 360))
    ]
    assert not problems, "\n".join(problems)


def _problems(name: str, page: Page, target: Canvas) -> Iterator[str]:
    """All that is wrong with the layout of a page, a line each."""
    everything: list[Written] = []
    for widget in page.lay_out(target):
        if not _within(widget.box, STAGE):
            yield f"{name}: {widget.key or widget.lines} leaves the stage: {widget.box}"
        if widget.key and min(widget.box.width, widget.box.height) < 44:
            yield f"{name}: {widget.key} is too small to press"
        with caught(page) as written:
            widget.draw(target, page.theme)
        for one in written:
            if not _within(one.box, widget.box.grown(5)):
                yield f"{name}: {one.text!r} leaves {widget.key or 'its paper'}"
            if one.size < 20:
                yield f"{name}: {one.text!r} is too small to read"
        everything += written
    for one, other in combinations(everything, 2):
        if one.box.grown(-4).overlaps(other.box.grown(-4)):
            yield f"{name}: {one.text!r} lies on {other.text!r}"
    for first, second in combinations(page.choices(), 2):
        if first.box.grown(-1).overlaps(second.box.grown(-1)):
            yield f"{name}: {first.key} and {second.key} overlap"


@pytest.mark.parametrize(("name", "high_contrast"), DRAWN)
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


@pytest.fixture(params=WALKED)
def page(request: pytest.FixtureRequest, around: Callable[..., Surroundings], canvas: Callable[..., Canvas]) -> Page:
    made = desk_states()[request.param](around(size=(640, 360)))
    made.lay_out(canvas(640, 360))
    return made


def test_tab_comes_to_every_choice_and_back(page: Page, canvas: Callable[..., Canvas]) -> None:
    target = canvas(640, 360)
    wanted = {widget.key for widget in page.choices()}
    seen = []
    while len(seen) < 90 and seen.count(page.focus) < 2:
        page.handle(Intent(Act.NEXT))
        page.lay_out(target)
        seen.append(page.focus)
    assert wanted <= set(seen)
    for _ in range(3):
        page.handle(Intent(Act.PREVIOUS))
        page.lay_out(target)
        seen.append(page.focus)
    assert len(set(seen[-4:])) == min(4, len(wanted))


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
