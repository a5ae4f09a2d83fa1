"""Small signs that say with their shape what the word beside them says."""

import math
from functools import cache

import pygame
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.palette import palette
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import SMALL
from musclewood.games.kit.widgets import Drawing
from musclewood.games.screens.base.scenery import cut


def stop_sign(canvas: Canvas, theme: Theme, box: Box) -> None:
    """An eight-sided board with a flat hand's bar across it."""
    x, y = box.centre
    r = box.width / 2
    corners = [(x + r * math.cos(a), y + r * math.sin(a)) for a in (math.pi / 8 + k * math.pi / 4 for k in range(8))]
    canvas.shape(palette().accent["vermilion"], corners)
    bar = Box(x - r * 0.5, y - r * 0.16, r, r * 0.32)
    pygame.draw.rect(canvas.surface, theme.slip, canvas.area(bar), border_radius=canvas.length(3))


@cache
def key_cap(letter: str) -> Drawing:
    """A key of the keyboard, at the right end of a tag."""

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        side = 40.0
        cap = Box(box.right - side - 20, box.top + (box.height - side) / 2, side, side)
        pygame.draw.rect(canvas.surface, theme.ink, canvas.area(cap), canvas.length(3), canvas.length(9))
        theme.letters.write(
            canvas, letter, cap.centre, SMALL / theme.settings.text_scale, theme.ink, bold=True, anchor="center"
        )

    return draw


def plaster(canvas: Canvas, theme: Theme, box: Box) -> None:
    """A sticking plaster, laid slantwise."""
    x, y = box.centre
    reach, half = box.width * 0.34, box.width * 0.17
    a, b = (x - reach, y + reach), (x + reach, y - reach)
    colour = palette().accent["pink"]
    canvas.line(colour, [a, b], half * 2)
    for end in (a, b):
        canvas.disc(colour, end, half)
    canvas.line(theme.slip, [(x - half * 0.8, y + half * 0.8), (x + half * 0.8, y - half * 0.8)], half * 1.5)
    for dx, dy in ((-3, 0), (3, 0), (0, -3), (0, 3)):
        canvas.disc(theme.ink, (x + dx * 1.3, y + dy * 1.3), 1.6)


def speech(canvas: Canvas, theme: Theme, box: Box) -> None:
    """A voice: a dot, and what spreads from it."""
    x, y = box.centre
    canvas.disc(theme.ink, (x - box.width * 0.28, y), box.width * 0.11)
    for reach in (0.24, 0.42, 0.6):
        turns = (-0.8 + 0.1 * k for k in range(17))
        r = box.width * reach
        canvas.line(theme.ink, [(x - box.width * 0.28 + r * math.cos(a), y + r * math.sin(a)) for a in turns], 5)


def eye(canvas: Canvas, theme: Theme, box: Box) -> None:
    """Somebody reads: an open eye."""
    x, y = box.centre
    across, down = box.width * 0.42, box.width * 0.24
    upper = [(x + across * math.cos(a), y - down * math.sin(a)) for a in (math.pi * k / 16 for k in range(17))]
    lower = [(x - across * math.cos(a), y + down * math.sin(a)) for a in (math.pi * k / 16 for k in range(17))]
    canvas.line(theme.ink, [*upper, *lower], 4)
    canvas.disc(theme.ink, (x, y), box.width * 0.13)


def arrow(canvas: Canvas, theme: Theme, box: Box) -> None:
    """Onward."""
    x, y = box.centre
    r = box.width * 0.3
    canvas.shape(theme.ink, [(x - r * 0.7, y - r), (x + r, y), (x - r * 0.7, y + r)])


def stay(canvas: Canvas, theme: Theme, box: Box) -> None:
    """Two posts that stand still."""
    width, height = box.width * 0.2, box.height * 0.72
    for share in (0.28, 0.72):
        post = Box(box.left + box.width * share - width / 2, box.top + (box.height - height) / 2, width, height)
        canvas.surface.fill(theme.ink, canvas.area(post))


def leaf_turn(canvas: Canvas, theme: Theme, box: Box) -> None:
    """Back."""
    x, y = box.centre
    r = box.width * 0.3
    canvas.shape(theme.ink, [(x + r * 0.7, y - r), (x - r, y), (x + r * 0.7, y + r)])


def door(canvas: Canvas, theme: Theme, box: Box) -> None:
    """A door that stands open: leave."""
    x, y = box.centre
    w, h = box.width * 0.26, box.height * 0.36
    frame = canvas.area(Box(x - w, y - h, 2 * w, 2 * h))
    pygame.draw.rect(canvas.surface, theme.ink, frame, canvas.length(4))
    canvas.shape(theme.ink, [(x - w, y - h), (x + w * 0.3, y - h * 0.6), (x + w * 0.3, y + h * 1.2), (x - w, y + h)])


def letter(canvas: Canvas, theme: Theme, box: Box) -> None:
    """An envelope."""
    x, y = box.centre
    w, h = box.width * 0.36, box.height * 0.25
    pygame.draw.rect(canvas.surface, theme.ink, canvas.area(Box(x - w, y - h, 2 * w, 2 * h)), canvas.length(4))
    canvas.line(theme.ink, [(x - w + 2, y - h + 2), (x, y + h * 0.25), (x + w - 2, y - h + 2)], 4)


def folder(canvas: Canvas, theme: Theme, box: Box) -> None:
    """A folder for letters."""
    x, y = box.centre
    w, h = box.width * 0.34, box.height * 0.26
    rim = [(x - w, y - h), (x - w * 0.2, y - h), (x, y - h * 0.6), (x + w, y - h * 0.6), (x + w, y + h), (x - w, y + h)]
    canvas.line(theme.ink, [*rim, rim[0]], 4)


def page(canvas: Canvas, theme: Theme, box: Box) -> None:
    """A written page: the report."""
    x, y = box.centre
    w, h = box.width * 0.25, box.height * 0.34
    pygame.draw.rect(canvas.surface, theme.ink, canvas.area(Box(x - w, y - h, 2 * w, 2 * h)), canvas.length(4))
    for share in (-0.4, 0.0, 0.4):
        canvas.line(theme.ink, [(x - w * 0.55, y + h * share), (x + w * 0.55, y + h * share)], 3)


def pot(canvas: Canvas, theme: Theme, box: Box) -> None:
    """A pot: the shelf."""
    x, y = box.centre
    r = box.width * 0.3
    canvas.disc(theme.ink, (x, y + r * 0.25), r)
    canvas.shape(theme.ink, [(x - r * 0.55, y - r), (x + r * 0.55, y - r), (x + r * 0.4, y), (x - r * 0.4, y)])
    canvas.line(theme.slip, [(x - r * 0.9, y + r * 0.2), (x + r * 0.9, y + r * 0.2)], 3)


def sliders(canvas: Canvas, theme: Theme, box: Box) -> None:
    """Three pegs on three cords: settings."""
    x, y = box.centre
    r = box.width * 0.32
    for k, peg in ((-1, 0.4), (0, -0.45), (1, 0.1)):
        canvas.line(theme.ink, [(x - r, y + k * r * 0.75), (x + r, y + k * r * 0.75)], 3)
        canvas.disc(theme.ink, (x + peg * r, y + k * r * 0.75), r * 0.26)


# On the cards that offer a source.
CARD_MIDDLE = (140.0, 96.0)  # the sketches are drawn around this point of a card


def of_source(kind: str) -> Drawing:
    """A sensor on an arm, a book of recordings, a jointed wooden figure, or keys."""

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        at = (box.left + box.width / 2 - CARD_MIDDLE[0], box.top)
        cut(f"source/{kind}", "dusk", canvas.scale).draw(canvas.surface, *at)

    return draw
