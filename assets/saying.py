"""A sentence as a code with its parameters.

As text it is the English of the catalogue, as commands print it; a window says it anew in its reader's language, by
`code` and `values`. A value may be a saying itself.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from functools import cache
from importlib.resources import files

PLAIN = re.compile(r'([\w-]+) = "([^"\\]*)"')


class Saying(str):
    """The English sentence, with the key of the catalogues that it stands under and what fills its gaps."""

    __slots__ = ("code", "values")
    code: str
    values: dict[str, object]

    def __reduce__(self) -> tuple[object, ...]:
        return _rebuilt, (self.code, self.values)


def say(code: str, /, **values: object) -> Saying:
    """The sentence under a dotted key with its gaps filled. KeyError for a key nobody wrote."""
    return _rebuilt(code, values)


def _rebuilt(code: str, values: dict[str, object]) -> Saying:
    said = Saying(catalogue("en")[code].format(**values))
    said.code, said.values = code, values
    return said


@cache
def catalogue(language: str) -> dict[str, str]:
    """Every sentence of one language under its dotted key; assets/text holds one complete file a language."""
    return dict(sentences(files("musclewood.assets").joinpath("text", f"{language}.toml").read_text("utf-8")))


def sentences(toml: str) -> Iterator[tuple[str, str]]:
    """Dotted keys with their sentences. Nearly all lines are plain, and a start waits for them: only the others go
    through the library. Each table and each sentence stands on a line of its own."""
    table = ""
    for line in toml.splitlines():
        if found := PLAIN.fullmatch(line):
            yield f"{table}{found[1]}", found[2]
        elif line.startswith("["):
            table = line.strip("[]") + "."
        elif line and not line.startswith("#"):
            for name, text in tomllib.loads(line).items():
                yield f"{table}{name}", str(text)
