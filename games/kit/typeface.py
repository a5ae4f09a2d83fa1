"""Text in Atkinson Hyperlegible at the window's real size: measured, wrapped and rendered once.

Sizes are in logical units (1280 x 720) and are multiplied by the reader's text size; 24 is the smallest in use.
"""

from functools import lru_cache
from importlib.resources import files
from io import BytesIO

import pygame
from musclewood.games.kit.canvas import Anchor, Canvas, Point
from musclewood.games.kit.kept import kept
from musclewood.games.kit.palette import Colour

SMALL, BODY, LARGE = 24.0, 28.0, 34.0
GLUED = "\u00a0%"
LINE_HEIGHT = 1.28  # of the letter size; wide enough for reading glasses (our choice)


@lru_cache(maxsize=2)
def _font_file(bold: bool) -> bytes:
    name = f"AtkinsonHyperlegible-{'Bold' if bold else 'Regular'}.ttf"
    return files("fontpkg_atkinson_hyperlegible").joinpath("files", name).read_bytes()


@lru_cache(maxsize=64)
def _font(pixels: int, bold: bool) -> pygame.font.Font:
    if not pygame.font.get_init():
        pygame.font.init()
    return pygame.font.Font(BytesIO(_font_file(bold)), pixels)


@kept(2)
def _line(text: str, pixels: int, bold: bool, colour: Colour) -> pygame.Surface:
    return _font(pixels, bold).render(text, True, colour)


class Typeface:
    """Letters for one reader: `text_scale` multiplies every size."""

    def __init__(self, text_scale: float = 1.0) -> None:
        self.text_scale = text_scale

    def _pixels(self, size: float, scale: float) -> int:
        return max(6, round(size * self.text_scale * scale))

    def wrap(self, canvas: Canvas, text: str, size: float, width: float, *, bold: bool = False) -> list[str]:
        """Lines no wider than `width` logical units; a longer word keeps a line of its own, a number its sign for per
        cent."""
        font = _font(self._pixels(size, canvas.scale), bold)
        lines: list[str] = []
        for paragraph in text.split("\n"):
            line = ""
            for word in filter(None, paragraph.replace(" %", GLUED).split(" ")):
                longer = f"{line} {word}" if line else word
                if line and font.size(longer)[0] > width * canvas.scale:
                    lines.append(line)
                    line = word
                else:
                    line = longer
            lines.append(line)
        return [line.replace(GLUED, " %") for line in lines]

    def measure(self, canvas: Canvas, lines: list[str], size: float, *, bold: bool = False) -> tuple[float, float]:
        """Width and height in logical units of lines set below one another."""
        font = _font(self._pixels(size, canvas.scale), bold)
        width = max((font.size(line)[0] for line in lines), default=0) / canvas.scale
        return width, len(lines) * self.line_height(size)

    def line_height(self, size: float) -> float:
        """Distance in logical units from one line to the next."""
        return size * self.text_scale * LINE_HEIGHT

    def write(
        self,
        canvas: Canvas,
        lines: list[str] | str,
        point: Point,
        size: float,
        colour: Colour,
        *,
        bold: bool = False,
        anchor: Anchor = "topleft",
    ) -> None:
        """Set lines with the block's `anchor` at a logical point; they align to the anchor's own side."""
        lines = [lines] if isinstance(lines, str) else lines
        height = len(lines) * self.line_height(size)
        side = "left" if "left" in anchor else "right" if "right" in anchor else "mid"
        top = point[1] - (height if "bottom" in anchor else 0.0 if "top" in anchor else height / 2)
        pixels = self._pixels(size, canvas.scale)
        place: Anchor = "midleft" if side == "left" else "midright" if side == "right" else "center"
        for number, line in enumerate(lines):
            middle = top + (number + 0.5) * self.line_height(size)
            canvas.paste(_line(line, pixels, bold, colour), (point[0], middle), place)
