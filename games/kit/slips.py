"""Paper slips, tags and wooden signs of any size, cut once for each size and kept."""

import random
from typing import Literal

from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.kept import kept
from musclewood.games.kit.palette import Colour, hexadecimal, palette
from musclewood.games.kit.paper import SVG, Sheet, bake

Shape = Literal["slip", "tag", "sign", "panel"]
STEP = 8  # sizes are rounded up to this, so that few different sheets are kept
HANG = 30.0  # length of a hanging sign's cords


def lay_slip(canvas: Canvas, box: Box, shape: Shape, colour: Colour, *, outlined: bool = False) -> None:
    """Draw a sheet of paper (or wood, for a sign) that fills the box."""
    width, height = _stepped(box.width), _stepped(box.height)
    sheet = _cut(shape, width, height, colour, canvas.scale, outlined)
    sheet.draw(canvas.surface, box.left - (width - box.width) / 2, box.top - (height - box.height) / 2)


def _stepped(length: float) -> int:
    return -int(-length // STEP) * STEP


@kept(8)
def _cut(shape: Shape, width: int, height: int, colour: Colour, scale: float, outlined: bool) -> Sheet:
    fill, ink = hexadecimal(colour), hexadecimal(palette().paper["ink"])
    border = f' stroke="{ink}" stroke-width="4"' if outlined else ""
    seed = random.Random(f"{shape}{width}x{height}")
    if shape == "sign":
        body = _sign(width, height, seed)
    elif shape == "tag":
        body = _tag(width, height, fill, border)
    else:
        body = f'<g data-lift="6"><path fill="{fill}"{border} d="{_torn(width, height, seed)}"/></g>'
    return bake(f'<svg xmlns="{SVG}" viewBox="0 0 {width} {height}">{body}</svg>', scale)


def _torn(width: float, height: float, seed: random.Random) -> str:
    """A rectangle as scissors cut it: corners a little off, edges never quite straight."""

    def off() -> float:
        return seed.uniform(0.0, 4.0)

    corners = [(off(), off()), (width - off(), off()), (width - off(), height - off()), (off(), height - off())]
    path = f"M{corners[0][0]:.1f} {corners[0][1]:.1f}"
    for here, there in zip(corners, corners[1:] + corners[:1], strict=True):
        bend = seed.uniform(-2.5, 2.5)
        middle = ((here[0] + there[0]) / 2, (here[1] + there[1]) / 2)
        flat = abs(there[0] - here[0]) > abs(there[1] - here[1])
        middle = (middle[0], middle[1] + bend) if flat else (middle[0] + bend, middle[1])
        path += f"Q{middle[0]:.1f} {middle[1]:.1f} {there[0]:.1f} {there[1]:.1f}"
    return path + "Z"


def _tag(width: float, height: float, fill: str, border: str) -> str:
    """A label with two clipped corners and an eyelet: something to take hold of."""
    clip = min(22.0, height * 0.32)
    middle = height / 2
    outline = (
        f"M{clip} 2H{width - 6}Q{width - 2} 2 {width - 2} 6V{height - 6}Q{width - 2} {height - 2} "
        f"{width - 6} {height - 2}"
    )
    outline += f"H{clip}L2 {height - clip}V{clip}Z"
    eyelet = (
        f'<circle cx="17" cy="{middle}" r="6.5" fill="#3C2720"/><circle cx="17" cy="{middle}" r="3" fill="#1B1B3C"/>'
    )
    return f'<g data-lift="7"><path fill="{fill}"{border} d="{outline}"/>{eyelet}</g>'


def _sign(width: float, height: float, seed: random.Random) -> str:
    """A board on two cords, hung from whatever is above it."""
    board = _torn(width, height, seed)
    cords = "".join(
        f'<path d="M{x} 4V{-HANG}" stroke="#3C2720" stroke-width="3"/>' for x in (width * 0.16, width * 0.84)
    )
    grain = "".join(
        f'<path fill="none" stroke="#B98A5E" stroke-width="1.6" d="M8 {y:.1f}Q{width / 2} '
        f"{y + seed.uniform(-5, 5):.1f} "
        f'{width - 8} {y + seed.uniform(-3, 3):.1f}"/>'
        for y in (height * 0.2, height * 0.45, height * 0.7, height * 0.88)
    )
    nails = "".join(f'<circle cx="{x}" cy="9" r="3" fill="#3C2720"/>' for x in (width * 0.16, width * 0.84))
    return f'<g data-lift="3">{cords}</g><g data-lift="6"><path fill="#DDB588" d="{board}"/>{grain}{nails}</g>'
