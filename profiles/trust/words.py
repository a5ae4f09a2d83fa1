"""Bytes as words that two people can compare on the telephone: one word for every byte.

The list has 256 words. No two share their first three letters, and no two are fewer than three letters apart, so a word
that was half heard or mistyped is not taken for another one.
"""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files

TELLING_LETTERS = 3


@cache
def word_list() -> tuple[str, ...]:
    """The 256 words in order; the place of a word is the byte it stands for."""
    text = files("musclewood.assets").joinpath("trust", "words.txt").read_text("utf-8")
    return tuple(text.split())


def to_words(data: bytes) -> tuple[str, ...]:
    """One word for every byte."""
    listed = word_list()
    return tuple(listed[byte] for byte in data)


def same_words(typed: str, data: bytes) -> bool:
    """Whether what somebody typed names these bytes, all of them and in order; capitals and punctuation do not matter.

    A word may be cut short as long as its first three letters stand.
    """
    heard = re.findall(r"[^\W\d_]+", typed.lower())
    wanted = to_words(data)
    return len(heard) == len(wanted) and all(
        len(word) >= TELLING_LETTERS and whole.startswith(word) for word, whole in zip(heard, wanted, strict=True)
    )
