"""Text that somebody else wrote, before it is believed or shown: one line, nothing that moves a
cursor, bounded work."""

from __future__ import annotations

import re

# Control characters, what ends a line, and what turns the direction of writing: with these a name can hide or rewrite
# what stands around it (Unicode Technical Report 36; CVE-2021-42574 for the direction).
_UNPRINTABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028\u2029\u202a-\u202e\u2066-\u2069\ufeff]")
_BREAKS = re.compile("[\t\n\r\x0b\x0c\x85\u2028\u2029]+")
_STAND_IN = "\ufffd"
MOST_DOTS = 16  # in one dotted key; our choice: this program's own files have three at most
# Strings and comments, in which dots are only dots.
_SPOKEN = re.compile(r"\"\"\".*?\"\"\"|'''.*?'''|\"(?:[^\"\\\n]|\\.)*\"|'[^'\n]*'|#[^\n]*", re.DOTALL)

# With these a cell is a formula to a spreadsheet (OWASP, CSV Injection); a single quote before it makes it text. One
# that begins with a quote gets another, so that the way back is always the same.
FORMULA_STARTS, QUOTE = ("=", "+", "-", "@", "\t", "\r", "'"), "'"


def is_plain(text: str) -> bool:
    """Whether a text has nothing but letters and line ends in it."""
    return _UNPRINTABLE.search(text) is None


def is_one_line(text: str) -> bool:
    """Whether a text is plain and has no line end either."""
    return is_plain(text) and _BREAKS.search(text) is None


def one_line(text: str) -> str:
    """A text as it may be printed: line ends become spaces, everything else that no letter is becomes a stand-in."""
    return _UNPRINTABLE.sub(_STAND_IN, _BREAKS.sub(" ", text))


def safe_cell(text: str) -> str:
    """A text as a cell that no spreadsheet runs; without its first quote it is what it was."""
    return QUOTE + text if text.startswith(FORMULA_STARTS) else text


def refuse_long_keys(text: str) -> None:
    """A TOML parser's work grows with the square of the parts of a dotted key. Raises
    ValueError beyond any real one."""
    bare = _SPOKEN.sub("s", text)
    for part in re.split(r"[,={}\[\]\n]", bare):
        if part.count(".") > MOST_DOTS:
            raise ValueError(f"a key of more than {MOST_DOTS} parts")
