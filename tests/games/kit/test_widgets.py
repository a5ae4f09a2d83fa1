"""What stands still is drawn once and kept: it looks as if it were drawn piece by piece, and changes when it must."""

from __future__ import annotations

import gc
import weakref
from dataclasses import replace

import numpy as np
import pygame
import pytest
from musclewood.games.engine.results import result_of
from musclewood.games.gallery.evenings import OF_EACH_KIND
from musclewood.games.gallery.made_up import judged
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.settings import Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.widgets import Look, Widget, button, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.controls_row import always_there
from musclewood.games.screens.session.result_card import result_card


def canvas_of(size: tuple[int, int]) -> Canvas:
    canvas = Canvas(pygame.Surface(size))
    canvas.surface.fill((60, 80, 120))
    return canvas


def pixels(canvas: Canvas) -> np.ndarray:
    return pygame.surfarray.array3d(canvas.surface).astype(int)


@pytest.mark.parametrize("size", [(1280, 720), (1000, 600)])
@pytest.mark.parametrize("contrast", [False, True])
def test_a_kept_widget_looks_as_if_drawn_piece_by_piece(size: tuple[int, int], contrast: bool) -> None:
    theme, kept, anew = Theme(Settings(high_contrast=contrast)), canvas_of(size), canvas_of(size)
    widgets = [
        *always_there(kept, theme),
        sentence(kept, theme, "Squeeze until the flame is high.", (24.3, 24.7), 460.2, Look(bold=True)),
        button(kept, theme, "on", "Go on", (900, 300), first=True, icon=icons.arrow),
        sentence(kept, theme, "The shelf", (1100, 90), 400, Look(shape="sign")),
    ]
    for widget in widgets:
        widget.draw(kept, theme)
        replace(widget, picture=widget.picture or (lambda *_: None), still=False).draw(anew, theme)
    assert np.abs(pixels(kept) - pixels(anew)).max() <= 1, "but for what is rounded"


def test_other_words_other_colours_and_another_place_are_drawn_anew() -> None:
    seen = set()
    for theme in (Theme(), Theme(Settings(high_contrast=True)), Theme(Settings(text_scale=1.25))):
        for words in ("One", "Two"):
            for left in (100.0, 300.0):
                canvas = canvas_of((1280, 720))
                sentence(canvas, theme, words, (left, 100), 400).draw(canvas, theme)
                seen.add(pixels(canvas).tobytes())
    assert len(seen) == 12


def test_a_picture_that_moves_is_drawn_every_time() -> None:
    canvas, theme, drawn = canvas_of((1280, 720)), Theme(), []
    moving = Widget(Box(100, 100, 200, 100), picture=lambda *_: drawn.append("moving"))
    still = Widget(Box(100, 300, 200, 100), picture=lambda *_: drawn.append("still"), still=True)
    for _ in range(3):
        moving.draw(canvas, theme)
        still.draw(canvas, theme)
    assert drawn.count("moving") == 3
    assert drawn.count("still") == 1


def test_what_is_kept_of_a_result_does_not_keep_its_page() -> None:
    """A page names its workshop's pictures: thirty megabytes."""

    class PageOfTime:
        time_s = 0.0

    page, canvas, theme = PageOfTime(), canvas_of((1280, 720)), Theme()
    result = result_of(judged(3), OF_EACH_KIND["hold"])
    for widget in result_card(canvas, theme, "kiln", result, "", lambda page=page: page.time_s):
        widget.draw(canvas, theme)
    gone = weakref.ref(page)
    del page, widget
    gc.collect()
    assert gone() is None
