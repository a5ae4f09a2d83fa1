"""Before there is anybody on the list: three papers that say what to do, and how far it is done."""

from __future__ import annotations

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.pieces import DENSE, picture
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.slips import lay_slip
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import BODY, LARGE
from musclewood.games.kit.widgets import Drawing, Look, Widget, sentence

WIDE, GAP, TALL = 396.0, 22.0, 300.0
HEAD = 84.0


def first_day(canvas: Canvas, theme: Theme, has_key: bool) -> list[Widget]:
    """A key, a first order, a folder that is carried."""
    words = theme.words
    calm = sentence(canvas, theme, words("desk.first.title"), (24, 118), 1232, Look(size=BODY, margin=24))
    signs: tuple[Drawing, ...] = (marks.seal, marks.pen, marks.tray)
    papers = [calm]
    told = [_told(canvas, theme, key) for key in ("key", "order", "carry")]
    tall = max(height for _, _, height in told)
    for number, ((title, hint, _), sign) in enumerate(zip(told, signs, strict=True)):
        done = number == 0 and has_key
        box = Box(24 + number * (WIDE + GAP), calm.box.bottom + 24, WIDE, tall)
        papers.append(picture(box, _paper(number + 1, sign, title, hint, done)))
    return papers


def _told(canvas: Canvas, theme: Theme, key: str) -> tuple[list[str], list[str], float]:
    """Title and hint in lines, and how high a paper they need."""
    words, letters = theme.words, theme.letters
    title = letters.wrap(canvas, words(f"desk.first.{key}"), BODY, WIDE - 56, bold=True)
    hint = letters.wrap(canvas, words(f"desk.first.{key}-hint"), DENSE, WIDE - 56)
    lines = len(title) * letters.line_height(BODY) + len(hint) * letters.line_height(DENSE)
    return title, hint, max(TALL, HEAD + lines + 34)


def _paper(number: int, sign: Drawing, title: list[str], told: list[str], done: bool) -> Drawing:
    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        lay_slip(canvas, box, "slip", theme.slip, outlined=theme.settings.high_contrast)
        write, left = theme.letters.write, box.left + 28
        write(canvas, str(number), (left, box.top + 18), LARGE, theme.ink, bold=True)
        sign(canvas, theme, Box(left + 40, box.top + 12, 60, 60))
        if done:
            marks.tick(canvas, theme, Box(left + 112, box.top + 30, 24, 24))
        top = box.top + HEAD
        write(canvas, title, (left, top), BODY, theme.ink, bold=True)
        write(canvas, told, (left, top + 10 + len(title) * theme.letters.line_height(BODY)), DENSE, theme.ink)

    return draw
