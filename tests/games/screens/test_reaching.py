"""Every choice of every screen can be reached by each device, and every screen can be left."""

from __future__ import annotations

from collections.abc import Callable

import pygame
import pytest
from musclewood.games.gallery.gallery import states
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.controls import Act, Device, Intent
from musclewood.games.screens.aloud import Aloud, text_of
from musclewood.games.screens.base.page import Leave, Page, Surroundings
from musclewood.games.screens.village.who import WhoPage

LAUNCHER = (
    "cautions",
    "cautions-5",
    "source",
    "pads",
    "pads-second",
    "settings",
    "keys",
    "notice",
    "shelf",
    "shelf-empty",
    "how-it-went",
    "how-it-went-attempt",
    "how-it-went-empty",
)


@pytest.fixture(params=states(), ids=str, scope="module")
def made(request: pytest.FixtureRequest, anywhere: Callable[..., Surroundings]) -> Page:
    page = states()[request.param](anywhere())
    page.lay_out(Canvas(pygame.Surface((1280, 720))))
    return page


@pytest.fixture
def page(made: Page) -> Page:
    """As it is seen first: nothing is moved to."""
    made.focus = ""
    made.lay_out(Canvas(pygame.Surface((1280, 720))))  # what an earlier test did may have changed it
    made.focus = ""
    return made


def test_moving_on_comes_to_every_choice(page: Page) -> None:
    """By keys to every one; by muscle to every one but those that no contraction may choose."""
    keys = {widget.key for widget in page.choices()}
    assert _stepped_on(page, "keyboard", len(keys)) == keys
    page.focus = ""
    assert _stepped_on(page, "muscle", len(keys)) == keys - page.closed_to_muscle


def _stepped_on(page: Page, device: Device, times: int) -> set[str]:
    seen = set()
    for _ in range(times):
        page.handle(Intent(Act.NEXT, device))
        seen.add(page.focus)
    return seen


def test_four_directions_reach_every_choice(page: Page) -> None:
    keys = {widget.key for widget in page.choices()}
    page.handle(Intent(Act.NEXT))
    seen, waiting = {page.focus}, [page.focus]
    while waiting:
        here = waiting.pop()
        for way in (Act.LEFT, Act.RIGHT, Act.UP, Act.DOWN):
            page.focus = here
            page.handle(Intent(way, "controller"))
            if page.focus not in seen:
                seen.add(page.focus)
                waiting.append(page.focus)
    assert seen == keys


def test_the_pointer_finds_every_choice(page: Page) -> None:
    for widget in page.choices():
        page.handle(Intent(Act.POINT, "pointer", _free_spot(page, widget.key)))
        assert page.focus == widget.key
        page.lay_out(Canvas(pygame.Surface((1280, 720))))  # a page may say elsewhere what is looked at
        told = Aloud().step(page.question().what, page.shown(), widget.key)
        assert text_of(widget) or (widget.key.startswith("place:") and told), "there is something to read aloud"


def _free_spot(page: Page, key: str) -> tuple[float, float]:
    """A point of the widget that nothing later covers; asserts that there is one of good size."""
    box = next(widget.box for widget in page.choices() if widget.key == key)
    for share in (0.5, 0.3, 0.7, 0.15, 0.85):
        for down in (0.5, 0.8, 0.2):
            spot = (box.left + box.width * share, box.top + box.height * down)
            under = [widget for widget in page.choices() if widget.box.holds(spot)]
            if under and under[-1].key == key:
                return spot
    raise AssertionError(f"{key} lies wholly under something else")


@pytest.mark.parametrize("name", LAUNCHER)
def test_launcher_screens_can_be_left(
    name: str, around: Callable[..., Surroundings], canvas: Callable[..., Canvas]
) -> None:
    made = states()[name](around())
    made.lay_out(canvas(1280, 720))
    assert "back" in {widget.key for widget in made.choices()}
    for _ in range(5):
        made.lay_out(canvas(1280, 720))
        made.update(1.0)
        if made.handle(Intent(Act.BACK)) is not None:
            return
    raise AssertionError(f"{name} cannot be left")


def test_nobody_at_work_has_the_stop_under_the_thumb(
    around: Callable[..., Surroundings], canvas: Callable[..., Canvas]
) -> None:
    """Enter does nothing in a workshop until somebody has moved to a control on purpose."""
    made = states()["work-kiln-good"](around())
    made.lay_out(canvas(1280, 720))
    assert made.focus == ""
    assert {"stop", "hurts"} <= {widget.key for widget in made.choices()}


def test_who_plays_is_chosen_by_code(around: Callable[..., Surroundings], canvas: Callable[..., Canvas]) -> None:
    page = WhoPage(around(), ("HB-0104", "HB-0141"))
    page.lay_out(canvas(1280, 720))
    page.handle(Intent(Act.NEXT))
    assert isinstance(page.handle(Intent(Act.CHOOSE)), Leave)
    assert page.answer == "HB-0141"
