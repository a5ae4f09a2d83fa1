"""Nought to ten without faces: wooden pegs for pain, firewood for effort."""

from functools import lru_cache

from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.kept import kept
from musclewood.games.kit.paper import SVG, Sheet, bake
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import LARGE, SMALL
from musclewood.games.kit.widgets import Drawing, Look, Widget, sentence

LEFT, STEP, BASE, WIDTH = 74.0, 104.0, 592.0, 92.0


def scale(canvas: Canvas, theme: Theme, what: str, least: str, most: str) -> list[Widget]:
    """Eleven choices from 0 to 10 on a rail, with words at both ends. `what` is 'pain' or 'effort'."""
    drawing = peg if what == "pain" else firewood
    choices = []
    for number in range(11):
        height = 96.0 + 24.0 * number if what == "pain" else 112.0 + 34.0 * ((number + 1) // 2)
        box = Box(LEFT + STEP * number, BASE - height, WIDTH, height)
        choices.append(Widget(box, key=str(number), bare=True, label=str(number), picture=drawing(number)))
    look = Look(size=SMALL, margin=14)
    low = sentence(canvas, theme, least, (LEFT, 632), 420, look)
    high = sentence(canvas, theme, most, (0, 632), 420, look)
    return [*choices, low, high.moved(LEFT + 10 * STEP + WIDTH - high.box.width, 632)]


def rail(canvas: Canvas) -> None:
    """The board that everything stands on."""
    _rail(canvas.scale).draw(canvas.surface)


def peg(number: int) -> Drawing:
    """A turned peg with its number on the head."""

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        _peg(round(box.height), canvas.scale).draw(canvas.surface, box.left, box.top)
        at = (box.left + WIDTH / 2, box.top + 44)
        theme.letters.write(canvas, str(number), at, LARGE, theme.ink, bold=True, anchor="center")

    return draw


def firewood(number: int) -> Drawing:
    """As many logs as the number says, behind a slice of wood that bears it."""

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        _firewood(number, round(box.height), canvas.scale).draw(canvas.surface, box.left, box.top)
        at = (box.left + WIDTH / 2, box.bottom - 52)
        theme.letters.write(canvas, str(number), at, LARGE, theme.ink, bold=True, anchor="center")

    return draw


@lru_cache(maxsize=4)
def _rail(scale: float) -> Sheet:
    grain = "".join(
        f'<path d="M40 {y}Q640 {y + bend} 1240 {y - 2}" fill="none" stroke="#54351F" stroke-width="2"/>'
        for y, bend in ((600, 5), (608, -4), (616, 3))
    )
    board = '<path fill="#6B4631" d="M44 588L1236 586L1244 622L36 624Z"/>'
    return bake(f'<svg xmlns="{SVG}" viewBox="20 560 1240 80"><g data-lift="7">{board}{grain}</g></svg>', scale)


@kept(3)
def _peg(height: int, scale: float) -> Sheet:
    shaft = f"M32 70C30 84 38 88 36 100L33 {height}H59L56 100C54 88 62 84 60 70Z"
    rings = "".join(
        f'<path d="M34 {y}Q46 {y + 5} 58 {y}" stroke="#7A5234" stroke-width="3" fill="none"/>' for y in (96, 106)
    )
    head = '<ellipse cx="46" cy="44" rx="42" ry="41" fill="#EBD3A9"/>'
    growth = '<path fill="none" stroke="#D3B27F" stroke-width="2" d="M12 40C16 18 34 8 50 9M80 52C76 70 62 78 48 79"/>'
    body = f'<g data-lift="4"><path fill="#A9774B" d="{shaft}"/>{rings}</g><g data-lift="5">{head}{growth}</g>'
    return bake(f'<svg xmlns="{SVG}" viewBox="0 0 {WIDTH} {height}">{body}</svg>', scale)


@kept(3)
def _firewood(number: int, height: int, scale: float) -> Sheet:
    logs = ""
    for log in range(number):
        row, side = divmod(log, 2)
        alone = side == 0 and log == number - 1
        x = 46 if alone else 27 + 38 * side
        y = height - 116 - 34 * row + 10
        logs += f'<circle cx="{x}" cy="{y}" r="19" fill="#7A5234"/><circle cx="{x}" cy="{y}" r="15" fill="#D9B384"/>'
        logs += f'<circle cx="{x}" cy="{y}" r="8" fill="none" stroke="#B98A5E" stroke-width="2.4"/>'
    slice_ = (
        f'<circle cx="46" cy="{height - 52}" r="45" fill="#6B4631"/><circle cx="46" cy="{height - 52}" '
        'r="40" fill="#EBD3A9"/>'
    )
    sheets = f'<g data-lift="4">{logs}</g>' if logs else ""
    return bake(f'<svg xmlns="{SVG}" viewBox="0 0 {WIDTH} {height}">{sheets}<g data-lift="5">{slice_}</g></svg>', scale)
