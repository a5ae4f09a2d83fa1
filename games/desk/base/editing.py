"""Keys that edit a line of text, the clipboard of the computer, and how a line with its caret is drawn."""

from __future__ import annotations

import warnings
from contextlib import suppress
from typing import Any

import pygame
from musclewood.games.desk.base.entry import Act, Edit, Seen
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.palette import mixed, palette
from musclewood.games.kit.theme import Theme

COMMAND = pygame.KMOD_CTRL | pygame.KMOD_META  # Control, or the command key where that does its work
TEXT = "text/plain;charset=utf-8"
MARGIN = 12.0

_PLAIN: dict[int, Act] = {
    pygame.K_LEFT: "left",
    pygame.K_RIGHT: "right",
    pygame.K_HOME: "home",
    pygame.K_END: "end",
    pygame.K_BACKSPACE: "erase",
    pygame.K_DELETE: "delete",
}
_WITH_COMMAND: dict[int, Act] = {
    pygame.K_a: "all",
    pygame.K_c: "copy",
    pygame.K_x: "cut",
    pygame.K_v: "paste",
    pygame.K_INSERT: "copy",
}
_WITH_SHIFT: dict[int, Act] = {pygame.K_INSERT: "paste", pygame.K_DELETE: "cut"}


def edit_of(key: int, mod: int) -> Edit | None:
    """What a key that was pressed does to a line of text; None for any other key."""
    command, shift = bool(mod & COMMAND), bool(mod & pygame.KMOD_SHIFT)
    if mod & pygame.KMOD_ALT:
        return None  # the right one writes letters on many keyboards, and comes with Control on some
    if command and key in _WITH_COMMAND:
        return Edit(_WITH_COMMAND[key])
    if shift and key in _WITH_SHIFT:
        return Edit(_WITH_SHIFT[key])
    act = _PLAIN.get(key)
    return Edit(act, choose=shift, word=command) if act else None


class Clipboard:
    """The computer's clipboard; where there is none, what was copied stays within this window."""

    def __init__(self) -> None:
        self._own = ""

    def put(self, text: str) -> None:
        self._own = text
        with suppress(pygame.error, AttributeError, NotImplementedError):
            _scrap().put_text(text)

    def get(self) -> str:
        with suppress(pygame.error, AttributeError, NotImplementedError):
            content: str = _scrap().get_text()
            if content:
                return content
        return self._own


class _Scrap:
    """The clipboard of pygame, under the names that pygame-ce gives it: it warns of the older ones."""

    def put_text(self, text: str) -> None:
        self._open()
        pygame.scrap.put(TEXT, text.encode())

    def get_text(self) -> str:
        self._open()
        content: bytes = pygame.scrap.get(TEXT) or b""
        return content.decode("utf-8", "replace").rstrip("\0")

    @staticmethod
    def _open() -> None:
        if not pygame.scrap.get_init():
            pygame.scrap.init()


def _scrap() -> Any:
    with warnings.catch_warnings():  # pygame warns of a part that this computer's libraries do not let it have
        warnings.simplefilter("ignore", RuntimeWarning)
        return pygame.scrap if hasattr(pygame.scrap, "put_text") else _Scrap()


def write_line(
    canvas: Canvas, theme: Theme, seen: Seen, place: Box, size: float, *, bold: bool = False, active: bool = True
) -> None:
    """One line of text in its place, moved along so that the caret is in sight, what is chosen on another ground."""
    first, last = part_in_sight(canvas, theme, seen, place.width - 2 * MARGIN, size, bold=bold)
    text, letters = seen.text[first:last], theme.letters
    left, middle = place.left + MARGIN, place.top + place.height / 2
    high = letters.line_height(size)

    def across(letter: int) -> float:
        upto = min(max(letter, first), last)
        return left + letters.measure(canvas, [seen.text[first:upto]], size, bold=bold)[0] if upto > first else left

    start, end = across(min(seen.caret, seen.anchor)), across(max(seen.caret, seen.anchor))
    if active and end > start:
        ground = mixed(theme.slip, palette().accent["blue"], 0.3)
        canvas.surface.fill(ground, canvas.area(Box(start, middle - high / 2, end - start, high)))
    if text:
        letters.write(canvas, text, (left, middle), size, theme.ink, bold=bold, anchor="midleft")
    if active:
        at = across(seen.caret) + 1
        canvas.line(theme.ink, [(at, middle - high / 2 + 2), (at, middle + high / 2 - 2)], 3)


def part_in_sight(
    canvas: Canvas, theme: Theme, seen: Seen, width: float, size: float, *, bold: bool = False
) -> tuple[int, int]:
    """First letter and the one behind the last of the part that fits, with the caret in it, as
    near its end as it goes."""

    def fits(first: int, last: int) -> bool:
        text = seen.text[first:last]
        return not text or theme.letters.measure(canvas, [text], size, bold=bold)[0] <= width

    first, last = 0, len(seen.text)
    while first < seen.caret and not fits(first, max(seen.caret, first)):
        first += 1
    while last > seen.caret and not fits(first, last):
        last -= 1
    return first, last


def letter_at(
    canvas: Canvas, theme: Theme, seen: Seen, place: Box, x: float, size: float, *, bold: bool = False
) -> int:
    """Before which letter the caret goes when the line is pressed at `x`."""
    first, last = part_in_sight(canvas, theme, seen, place.width - 2 * MARGIN, size, bold=bold)
    left = place.left + MARGIN

    def across(letter: int) -> float:
        return theme.letters.measure(canvas, [seen.text[first:letter]], size, bold=bold)[0] if letter > first else 0.0

    return min(range(first, last + 1), key=lambda letter: abs(left + across(letter) - x))
