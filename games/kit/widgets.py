"""What a page is made of: sentences on slips and things to choose.

A widget knows its box, how to draw itself and, if it can be chosen, its key. It keeps no state.
"""

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Literal

import pygame
from musclewood.games.kit.canvas import Box, Canvas, Point
from musclewood.games.kit.kept import kept
from musclewood.games.kit.palette import Colour, palette
from musclewood.games.kit.paper import Sheet
from musclewood.games.kit.slips import Shape, lay_slip
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import BODY

SMALLEST_TARGET = 56.0  # height of anything to choose, beyond the 44 that touch needs (WCAG 2.2, 2.5.5)
LARGEST_ICON, ICON_GAP = 60.0, 14.0
AROUND = 60.0  # the shadow of a paper, or the cords of a sign, reach less far beyond its box
Drawing = Callable[[Canvas, Theme, Box], None]


@dataclass(frozen=True)
class Look:
    """How a widget's paper and letters look."""

    size: float = BODY
    bold: bool = False
    shape: Shape = "slip"
    lamp: bool = False  # warm paper: what to do next
    margin: float = 22.0
    centred: bool = False


@dataclass(frozen=True)
class Widget:
    """One piece of a page. `key` names what is chosen with it; '' cannot be chosen.

    icon is drawn left of the text in a box as wide as high; picture is drawn over the whole paper. What is read aloud:
    the lines, or `label` instead; `aloud` says how soon when the lines have changed (see `Reader`); `running` lines
    change every second and are read but once. still: the picture is always the same, so it is drawn once.
    """

    box: Box
    lines: tuple[str, ...] = ()
    key: str = ""
    look: Look = field(default_factory=Look)
    icon: Drawing | None = None
    picture: Drawing | None = None
    bare: bool = False  # no paper: the picture says it all
    label: str = ""
    aloud: Literal["after", "next", "now"] = "after"
    running: bool = False
    still: bool = False

    def moved(self, left: float, top: float) -> "Widget":
        """The same widget with another upper left corner."""
        return replace(self, box=self.box._replace(left=left, top=top))

    def wide(self, width: float) -> "Widget":
        """The same widget as wide as its neighbours."""
        return replace(self, box=self.box._replace(width=width))

    def draw(self, canvas: Canvas, theme: Theme) -> None:
        """Paper, icon, words; what does not move is kept as one picture."""
        if self.bare or (self.picture and not self.still):
            self._draw(canvas, theme)
        else:
            _as_one(self, theme, canvas.size, canvas.scale).draw(canvas.surface)

    def _draw(self, canvas: Canvas, theme: Theme) -> None:
        if not self.bare:
            colour = theme.lamp if self.look.lamp else theme.slip
            lay_slip(canvas, self.box, self.look.shape, colour, outlined=theme.settings.high_contrast)
        if self.picture:
            self.picture(canvas, theme, self.box)
        if self.icon:
            side = _icon_side(self.box.height)
            left = self.box.left + _left_margin(self.look)
            self.icon(canvas, theme, Box(left, self.box.top + (self.box.height - side) / 2, side, side))
        if self.lines:
            self._write(canvas, theme)

    def _write(self, canvas: Canvas, theme: Theme) -> None:
        lines, look = list(self.lines), self.look
        middle = self.box.top + self.box.height / 2
        if look.centred:
            at: Point = (self.box.left + self.box.width / 2, middle)
            theme.letters.write(canvas, lines, at, look.size, theme.ink, bold=look.bold, anchor="center")
            return
        left = self.box.left + _left_margin(look) + (_icon_side(self.box.height) + ICON_GAP if self.icon else 0)
        theme.letters.write(canvas, lines, (left, middle), look.size, theme.ink, bold=look.bold, anchor="midleft")


@kept(4)
def _as_one(widget: Widget, theme: Theme, size: tuple[int, int], scale: float) -> Sheet:
    """The widget on clear ground, every pixel where it is on a canvas of this size and scale. It is kept with all that
    its icon and picture name, so neither may name a page."""
    around = (2 * round(side * scale / 2) for side in widget.box.grown(AROUND))  # even, as halves are rounded to even
    ground = pygame.Rect(*around).clip(pygame.Rect((0, 0), size))
    canvas = Canvas.clear(ground.size, scale)
    widget.moved(widget.box.left - ground.x / scale, widget.box.top - ground.y / scale)._draw(canvas, theme)
    inked = canvas.surface.get_bounding_rect()
    return Sheet(
        canvas.surface.subsurface(inked).copy(), (ground.x + inked.x) / scale, (ground.y + inked.y) / scale, scale
    )


def _icon_side(height: float) -> float:
    return min(LARGEST_ICON, height - 16)


def _left_margin(look: Look) -> float:
    return look.margin + (14 if look.shape == "tag" else 0)


def sentence(
    canvas: Canvas, theme: Theme, text: str, at: Point, width: float, look: Look | None = None, key: str = ""
) -> Widget:
    """A slip that is just large enough for its text, no wider than `width`; `at` is its upper left corner."""
    return _fitted(canvas, theme, text, at, width, look or Look(), key, None)


def button(
    canvas: Canvas,
    theme: Theme,
    key: str,
    text: str,
    at: Point = (0, 0),
    *,
    width: float = 560.0,
    first: bool = False,
    icon: Drawing | None = None,
    size: float = BODY,
) -> Widget:
    """A tag to choose; `first` for what to do next."""
    look = Look(size=size, bold=True, shape="tag", lamp=first)
    return _fitted(canvas, theme, text, at, width, look, key, icon)


def _fitted(
    canvas: Canvas, theme: Theme, text: str, at: Point, width: float, look: Look, key: str, icon: Drawing | None
) -> Widget:
    sides = _left_margin(look) + look.margin + (LARGEST_ICON + ICON_GAP if icon else 0)
    lines = theme.letters.wrap(canvas, text, look.size, width - sides, bold=look.bold)
    across, down = theme.letters.measure(canvas, lines, look.size, bold=look.bold)
    least = SMALLEST_TARGET if key else 0.0
    box = Box(at[0], at[1], across + sides + 2, max(least, down + look.margin * 1.1))
    return Widget(box, tuple(lines), key, look, icon)


def focus_ring(canvas: Canvas, theme: Theme, box: Box, held_share: float = 0.0) -> None:
    """Two outlines, dark and light, round what is about to be chosen; they show on any ground.

    `held_share` (0-1) fills a bar under it while a long contraction is held.
    """
    paper = palette().paper
    _outline(canvas, paper["ink"], box.grown(9), 9)
    _outline(canvas, paper["lamp"] if not theme.settings.high_contrast else paper["plain-slip"], box.grown(7), 5)
    if held_share > 0:
        bar = Box(box.left, box.bottom + 14, box.width, 14)
        canvas.surface.fill(paper["ink"], canvas.area(bar.grown(3)))
        canvas.surface.fill(paper["lamp"], canvas.area(bar._replace(width=bar.width * held_share)))


def _outline(canvas: Canvas, colour: Colour, box: Box, width: float) -> None:
    pygame.draw.rect(canvas.surface, colour, canvas.area(box), canvas.length(width), canvas.length(14))


def stacked(widgets: list[Widget], left: float, top: float, gap: float = 18.0, *, alike: bool = False) -> list[Widget]:
    """Widgets below one another; `alike` makes them equally wide."""
    broad = max((widget.box.width for widget in widgets), default=0.0)
    placed = []
    for widget in widgets:
        placed.append((widget.wide(broad) if alike else widget).moved(left, top))
        top = placed[-1].box.bottom + gap
    return placed


def in_rows(
    widgets: list[Widget], left: float, top: float, width: float, gap: float = 20.0, *, centred: bool = False
) -> list[Widget]:
    """Widgets side by side, continued in another row where the width is used up."""
    rows: list[list[Widget]] = [[]]
    for widget in widgets:
        used = sum(other.box.width + gap for other in rows[-1])
        if rows[-1] and used + widget.box.width > width:
            rows.append([])
        rows[-1].append(widget)
    placed = []
    for row in rows:
        used = sum(widget.box.width for widget in row) + gap * (len(row) - 1)
        x = left + ((width - used) / 2 if centred else 0)
        for widget in row:
            placed.append(widget.moved(x, top))
            x = placed[-1].box.right + gap
        top += max((widget.box.height for widget in row), default=0.0) + gap
    return placed


def bottom_of(widgets: list[Widget]) -> float:
    """The lowest edge of these widgets."""
    return max(widget.box.bottom for widget in widgets)
