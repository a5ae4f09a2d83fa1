"""A line that somebody types into: what it takes, how long it may get, where the caret stands, what is chosen. Pure."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

MASK = "•"
CODE = r"[A-Za-z]{0,4}|[A-Za-z]{2,4}-?[0-9]{0,5}"  # every beginning of a clinic code, and nothing else
VALUE = r"[0-9A-Za-z.,: -]*"  # numbers, dates, days, on and off
PASSPHRASE = r"[^\x00-\x1f\x7f]*"

Act = Literal["left", "right", "home", "end", "erase", "delete", "all", "copy", "cut", "paste"]
MOVES = ("left", "right", "home", "end")


class Edit(NamedTuple):
    """What a key does to a line. `choose`: the caret takes the chosen letters along; `word`: a whole word at once."""

    act: Act
    choose: bool = False
    word: bool = False

    @property
    def moves(self) -> bool:
        return self.act in MOVES


class Seen(NamedTuple):
    """A line as it is drawn: what can be read, the caret, and the other end of what is chosen, counted in letters."""

    text: str
    caret: int
    anchor: int


@dataclass
class Entry:
    """`takes` must match the whole text after every stroke; a stroke that would break it does nothing."""

    takes: str = VALUE
    longest: int = 40
    masked: bool = False
    text: str = field(default="", repr=False)
    caret: int = -1  # behind the last letter
    anchor: int = -1

    def __post_init__(self) -> None:
        self.caret = self.anchor = len(self.text) if self.caret < 0 else self.caret

    @property
    def chosen(self) -> str:
        """The letters between caret and anchor."""
        first, last = sorted((self.caret, self.anchor))
        return self.text[first:last]

    @property
    def seen(self) -> Seen:
        return Seen(self.shown, self.caret, self.anchor)

    @property
    def shown(self) -> str:
        return MASK * len(self.text) if self.masked else self.text

    def type(self, letters: str) -> bool:
        """Put what was typed at the caret, in the place of what is chosen. False if it is not taken."""
        first, last = sorted((self.caret, self.anchor))
        grown = self.text[:first] + letters + self.text[last:]
        if len(grown) > self.longest or not re.fullmatch(self.takes, grown):
            return False
        self.text = grown
        self.put(first + len(letters))
        return True

    def paste(self, text: str) -> bool:
        """The first line of it that says anything, without the blanks around it."""
        lines = [line.strip() for line in text.splitlines() if line.strip()]
        return bool(lines) and self.type(lines[0])

    def write(self, text: str) -> None:
        """This text instead of what stands there."""
        self.text = text
        self.put(len(text))

    def clear(self) -> None:
        self.write("")

    def put(self, caret: int, *, choose: bool = False) -> None:
        """The caret at a place; with `choose` the other end of what is chosen stays."""
        self.caret = min(max(0, caret), len(self.text))
        if not choose:
            self.anchor = self.caret

    def do(self, edit: Edit) -> bool:
        """Move, choose or erase. Whether the text is another now."""
        before = self.text
        if edit.moves:
            between = self.caret != self.anchor and edit.act in ("left", "right") and not edit.choose
            first, last = sorted((self.caret, self.anchor))
            goal = (first if edit.act == "left" else last) if between else self._goal(edit)
            self.put(goal, choose=edit.choose)
        elif edit.act == "all":
            self.anchor, self.caret = 0, len(self.text)
        elif edit.act in ("erase", "delete", "cut"):
            if self.caret == self.anchor and edit.act != "cut":
                way: Act = "left" if edit.act == "erase" else "right"
                self.caret = self._goal(Edit(way, word=edit.word))
            first, last = sorted((self.caret, self.anchor))
            self.text = self.text[:first] + self.text[last:]
            self.put(first)
        return self.text != before

    def _goal(self, edit: Edit) -> int:
        """Where the caret goes. No word of a masked line is told apart from the next."""
        if edit.act in ("home", "end") or (edit.word and self.masked):
            return 0 if edit.act in ("home", "left") else len(self.text)
        if not edit.word:
            return min(max(0, self.caret + (-1 if edit.act == "left" else 1)), len(self.text))
        if edit.act == "left":
            starts = [found.start() for found in re.finditer(r"\w+", self.text) if found.start() < self.caret]
            return starts[-1] if starts else 0
        ends = [found.end() for found in re.finditer(r"\w+", self.text) if found.end() > self.caret]
        return ends[0] if ends else len(self.text)


def code_of(text: str) -> str:
    """What was typed as a clinic code: capitals, and the hyphen that people leave out."""
    capital = text.strip().upper()
    found = re.fullmatch(r"([A-Z]{2,4})([0-9]+)", capital)
    return f"{found[1]}-{found[2]}" if found else capital
