"""Logical units meet pixels; text is measured as it is drawn; colours contrast as published."""

from __future__ import annotations

import pygame
import pytest
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.palette import HOURS, colour, palette
from musclewood.games.kit.typeface import BODY, Typeface

from tests.games.contrast import contrast


@pytest.mark.parametrize(
    ("window", "size", "offset"),
    [
        ((1280, 720), (1280, 720), (0, 0)),
        ((1920, 1080), (1920, 1080), (0, 0)),
        ((2000, 720), (1280, 720), (360, 0)),
        ((1280, 1024), (1280, 720), (0, 152)),
        ((1, 1), (1, 1), (0, 0)),
    ],
)
def test_letterbox(window: tuple[int, int], size: tuple[int, int], offset: tuple[int, int]) -> None:
    canvas = Canvas(pygame.Surface(window))
    assert (canvas.size, canvas.offset) == (size, offset)


def test_logical_and_back() -> None:
    canvas = Canvas(pygame.Surface((1600, 1200)))
    pixel = canvas.at((320.0, 180.0))
    in_window = (pixel[0] + canvas.offset[0], pixel[1] + canvas.offset[1])
    assert canvas.logical(in_window) == pytest.approx((320.0, 180.0), abs=0.5)


def test_boxes() -> None:
    box = Box(10, 20, 100, 50)
    assert box.holds((10, 20))
    assert not box.holds((110, 20))
    assert box.overlaps(Box(109, 60, 10, 10))
    assert not box.overlaps(Box(110, 20, 10, 10))
    assert box.grown(5) == Box(5, 15, 110, 60)


@pytest.mark.parametrize(
    ("text", "ratio"),
    [
        ("#767676", 4.542),
        ("#777777", 4.478),
        ("#595959", 7.005),
        ("#FF0000", 3.998),
        ("#0000FF", 8.592),
        ("#000000", 21),
    ],
)
def test_contrast_with_white(text: str, ratio: float) -> None:
    """Well-known values of the WCAG 2.2 formula."""
    assert contrast(colour(text), (255, 255, 255)) == pytest.approx(ratio, abs=0.001)


def test_accents_are_okabe_and_ito() -> None:
    """Okabe & Ito 2002."""
    assert set(palette().accent.values()) == {
        colour(value) for value in ("#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7")
    }


def test_every_hour_names_the_same_colours() -> None:
    names = {hour: set(palette().named(hour)) for hour in HOURS}
    assert names["dusk"] == names["night"] == names["dawn"]


@pytest.mark.parametrize("ground", ["slip", "lamp", "plain-slip"])
def test_ink_on_paper(ground: str) -> None:
    paper = palette().paper
    ink = paper["plain-ink"] if ground == "plain-slip" else paper["ink"]
    assert contrast(ink, paper[ground]) >= 7


def test_wrapping_keeps_the_width_and_every_word() -> None:
    canvas, letters = Canvas(pygame.Surface((1280, 720))), Typeface(1.4)
    text = "Halte dich an das, was in der Physiotherapie besprochen wurde."
    lines = letters.wrap(canvas, text, BODY, 300)
    assert " ".join(lines) == text
    assert letters.measure(canvas, lines, BODY)[0] <= 300


def test_letters_grow_with_window_and_reader() -> None:
    small, large = Canvas(pygame.Surface((1280, 720))), Canvas(pygame.Surface((1920, 1080)))
    width, _ = Typeface().measure(small, ["hornbeam"], 40)
    assert Typeface().measure(large, ["hornbeam"], 40)[0] == pytest.approx(width, rel=0.03)
    assert Typeface(1.4).measure(small, ["hornbeam"], 40)[0] == pytest.approx(1.4 * width, rel=0.03)
