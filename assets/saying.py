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
    said = Saying(_english(code).format(**values))
    said.code, said.values = code, values
    return said


@cache
def _english(code: str) -> str:
    found: object = _catalogue()
    for part in code.split("."):
        assert isinstance(found, dict)
        found = found[part]
    return str(found)


@cache
def _catalogue() -> dict[str, object]:
    return tomllib.loads(files("musclewood.assets").joinpath("text", "en.toml").read_text("utf-8"))
