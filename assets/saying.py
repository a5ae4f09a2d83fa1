"""A sentence as a code with its parameters.

As text it is the English of the catalogue, as commands print it; a window says it anew in its reader's language, by
`code` and `values`. A value may be a saying itself.
"""

from __future__ import annotations

import tomllib
from functools import cache
from importlib.resources import files


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
    text = files("musclewood.assets").joinpath("text", f"{language}.toml").read_text("utf-8")
    return dict(_flat(tomllib.loads(text), ""))


def _flat(table: dict[str, object], before: str) -> list[tuple[str, str]]:
    entries: list[tuple[str, str]] = []
    for name, value in table.items():
        if isinstance(value, dict):
            entries += _flat(value, f"{before}{name}.")
        else:
            entries.append((f"{before}{name}", str(value)))
    return entries
