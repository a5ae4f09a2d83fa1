"""Every screen in every state can be drawn, shows something, and says it with enough contrast."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pygame
import pytest
from musclewood.games.gallery.desk import desk_states
from musclewood.games.gallery.gallery import gallery, states
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.settings import Settings
from musclewood.games.screens.base.page import Surroundings

from tests.games.contrast import contrast

Canvases = Callable[[int, int], Canvas]
FEW = ("today", "cautions", "source", "pads", "settings", "comfort", "signal-poor", "calibration-trial", "product")


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("size", [(1280, 720), (1920, 1080)])
def test_no_state_is_blank(canvas: Canvases, full: bool, size: tuple[int, int], language: str) -> None:
    if not full:
        if (size, language) != ((1280, 720), "en"):
            pytest.skip("the other three are drawn under MUSCLEWOOD_FULL=1")
        size = (448, 252)
    drawn = 0
    for name, render in gallery(Settings(language=language)):
        target = canvas(*size)
        target.surface.fill((255, 0, 255))
        assert render(target), f"{name} has nothing to be read aloud"
        pixels = pygame.surfarray.array3d(target.surface).astype(float)
        assert not (pixels == (255, 0, 255)).all(axis=2).any(), f"{name} leaves a part undrawn"
        assert pixels.std() > 12, f"{name} is blank"
        drawn += 1
    assert drawn == len(states()) + len(desk_states())


@pytest.mark.parametrize("name", FEW)
@pytest.mark.parametrize("high_contrast", [False, True])
def test_words_stand_out_seven_to_one(
    canvas: Canvases, around: Callable[..., Surroundings], name: str, high_contrast: bool
) -> None:
    """Measured on pixels: the ink of the letters against the paper round them."""
    target = canvas(1280, 720)
    target.surface.fill((90, 60, 90))
    page = states()[name](around(Settings(high_contrast=high_contrast)))
    widgets = page.lay_out(target)
    for widget in widgets:
        widget.draw(target, page.theme)
    written = [widget for widget in widgets if widget.lines and widget.look.shape != "sign"]
    assert written
    for widget in written:
        inner = target.area(widget.box.grown(-8))
        pixels = pygame.surfarray.array3d(target.surface.subsurface(inner)).reshape(-1, 3)
        order = np.argsort(pixels.sum(axis=1))
        ink = pixels[order[len(order) // 200]]  # darker than all but one in two hundred: the letters
        paper = np.median(pixels, axis=0)
        ratio = contrast(tuple(int(part) for part in ink), tuple(int(part) for part in paper))
        assert ratio >= 7.0, f"{name}: {widget.lines} has {ratio:.1f}"


def test_boards_and_pegs_stand_out_too(canvas: Canvases, around: Callable[..., Surroundings]) -> None:
    target = canvas(1280, 720)
    for name in ("today", "comfort", "rating-effort"):
        page = states()[name](around())
        for widget in page.lay_out(target):
            if widget.look.shape != "sign" and not widget.key.isdigit():
                continue
            target.surface.fill((90, 60, 90))
            widget.draw(target, page.theme)
            box = widget.box if widget.lines else widget.box._replace(height=88.0)
            if widget.key.isdigit() and name == "rating-effort":
                box = widget.box._replace(top=widget.box.bottom - 96, height=88.0)
            pixels = pygame.surfarray.array3d(target.surface.subsurface(target.area(box.grown(-14)))).reshape(-1, 3)
            order = np.argsort(pixels.sum(axis=1))
            ink = tuple(int(part) for part in pixels[order[len(order) // 200]])
            ground = tuple(int(part) for part in np.median(pixels, axis=0))
            assert contrast(ink, ground) >= 7.0, f"{name}: {widget.key} has {contrast(ink, ground):.1f}"
