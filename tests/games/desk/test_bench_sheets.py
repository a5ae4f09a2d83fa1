"""What stands on the bench's sheet stays on its paper, however large the letters; a trace that is written on is the
trace that would be written anew."""

from __future__ import annotations

from collections.abc import Callable
from typing import get_args

import numpy as np
import pygame
import pytest
from musclewood.games.desk.bench import sheets
from musclewood.games.desk.bench.page import RIGHT
from musclewood.games.desk.bench.pictures import Ink
from musclewood.games.examining.steps import Doing, Shown, Subject
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.settings import TEXT_SCALES, Settings
from musclewood.games.kit.theme import Theme
from musclewood.games.running.traces import COLUMNS

BOTH = (Subject("vm", "Vastus medialis", "left", 0), Subject("vm-other", "Vastus medialis", "right", 1))


@pytest.mark.parametrize("language", ["en", "de"])
def test_every_cue_stays_on_its_paper(language: str, canvas: Callable[[int, int], Canvas]) -> None:
    target = canvas(1280, 720)
    theme = Theme(Settings(text_scale=max(TEXT_SCALES), language=language))
    for doing in get_args(Doing):
        if doing in ("done", "stopped", "failed"):
            continue  # the page then shows what was found
        band = (0.3, 0.4) if doing in ("hold", "keep") else None
        subjects = () if doing == "pain" else BOTH[:1] if band else BOTH
        shown = Shown(
            doing, subjects, 3.0, 2, 3, band=band, note="not-readable" if doing in ("rest", "quiet") else None
        )
        composed = sheets.fitted(target, theme, RIGHT, lambda setting, shown=shown: sheets.cue(setting, shown, {}))  # type: ignore[misc]
        _on_paper(target, theme, composed, doing)


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_choices_stay_on_their_paper(language: str, canvas: Callable[[int, int], Canvas]) -> None:
    target = canvas(1280, 720)
    theme = Theme(Settings(text_scale=max(TEXT_SCALES), language=language))
    for at_once in (None, False, True):
        composed = sheets.fitted(
            target,
            theme,
            RIGHT,
            lambda setting, at_once=at_once: sheets.choices(setting, [], True, at_once),  # type: ignore[misc]
        )
        _on_paper(target, theme, composed, str(at_once))


@pytest.mark.parametrize("width", [570, 285])
def test_what_is_written_on_is_what_would_be_written_anew(width: int) -> None:
    """The trace goes twice round its paper, a few columns at a time; also where the window has fewer pixels than
    columns."""
    random = np.random.default_rng(5)
    paper = pygame.Surface((width + 40, 200), depth=32)
    paper.fill((240, 230, 210))
    area = pygame.Rect(20, 10, width, 180)
    going, low, high = Ink(paper, area), np.full(COLUMNS, np.nan), np.full(COLUMNS, np.nan)
    for first in range(0, 2 * COLUMNS, 3):
        columns = np.arange(first, first + 3) % COLUMNS
        high[columns] = random.uniform(0.0, 1.2, 3)
        low[columns] = -random.uniform(0.0, 1.2, 3)
        ahead = np.arange(first + 3, first + 8) % COLUMNS
        low[ahead] = high[ahead] = np.nan
        going.write(low, high, (20, 20, 60), 80)
    anew = Ink(paper, area)
    anew.write(low, high, (20, 20, 60), 80)
    pictures = []
    for ink in (going, anew):
        shown = paper.copy()
        ink.show(shown)
        pictures.append(pygame.surfarray.array3d(shown))
    assert (pictures[0] == pictures[1]).all()
    inked = (pictures[1][20 : 20 + width] != (240, 230, 210)).any(axis=(1, 2))
    assert inked.mean() > 0.95 and not inked.all()  # the gap ahead of the pen is paper


def _on_paper(target: Canvas, theme: Theme, composed: list, what: str) -> None:
    for one in composed:
        assert RIGHT.left <= one.box.left and one.box.right <= RIGHT.right, (what, one)
        assert RIGHT.top <= one.box.top and one.box.bottom <= RIGHT.bottom, (what, one)
        if one.bare and one.lines:
            across, _ = theme.letters.measure(target, list(one.lines), one.look.size, bold=one.look.bold)
            assert across <= one.box.width + 1, (what, one.lines)
            assert one.look.size * theme.letters.text_scale >= 20.0 - 1e-6
    tags = [one.box for one in composed if one.key]
    assert not any(one.overlaps(other) for number, one in enumerate(tags) for other in tags[:number]), what
