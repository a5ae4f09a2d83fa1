"""The report's words: every sentence comes from a catalogue in assets/report, one file a language."""

from __future__ import annotations

import math
import tomllib
from datetime import date
from functools import cache
from importlib.resources import files
from typing import Any

from musclewood.profiles.orders.tables import Muscle

LANGUAGES = ("en", "de")
DEFAULT = "en"


@cache
def catalogue(language: str) -> dict[str, Any]:
    """All sentences of one language."""
    path = files("musclewood.assets") / "report" / f"{language}.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


class Words:
    """Says what a key stands for, in one language. An unknown language is English."""

    def __init__(self, language: str, unit: str = "%MVC") -> None:
        """`unit` is what efforts are per cent of; with another one than %MVC no sentence speaks of a maximum."""
        short = language[:2].lower()
        self.language = short if short in LANGUAGES else DEFAULT
        self._catalogue = catalogue(self.language)
        self._instead = () if unit == "%MVC" else tuple(self._catalogue["submaximal"]["instead"])

    def get(self, key: str) -> Any:
        """Whatever stands under a key. Raises KeyError if nothing does."""
        found: Any = self._catalogue
        for part in key.split("."):
            found = found[part]
        return self._said(found)

    def _said(self, found: Any) -> Any:
        if isinstance(found, str):
            for word, other in self._instead:
                found = found.replace(word, other)
        elif isinstance(found, list):
            found = [self._said(one) for one in found]
        return found

    def __call__(self, key: str, **figures: object) -> str:
        return str(self.get(key)).format(**figures).replace(" %", "\u00a0%")

    def count(self, key: str, n: int, **figures: object) -> str:
        """The sentence for one or for many."""
        return self(f"{key}.{'one' if n == 1 else 'many'}", n=n, **figures)

    def known(self, table: str, word: str) -> str:
        """A word of the journal in this language; one that is not known stays as it is."""
        return str(self.get(table).get(word, word))

    def number(self, value: float | None, digits: int = 0) -> str:
        if value is None or math.isnan(value):
            return self("word.none")
        text = f"{value:.{digits}f}"
        text = text.removeprefix("-") if not float(text) else text
        return text.replace(".", self("form.point"))

    def signed(self, value: float) -> str:
        text = self.number(value)
        return text if text.startswith("-") or text == "0" else f"+{text}"

    def short(self, value: float) -> str:
        """As many digits as a setting needs: 35, 37.5."""
        return f"{round(value, 1):g}".replace(".", self("form.point"))

    def day(self, day: date) -> str:
        return self("form.day", day=day.day, month=self.get("form.months")[day.month - 1], year=day.year)

    def short_day(self, day: date) -> str:
        return self("form.short", day=day.day, month=self.get("form.months_short")[day.month - 1])

    def listed(self, words: list[str]) -> str:
        return str(self.get("form.list")).join(words)

    def muscle(self, muscle: Muscle) -> str:
        side, role = self(f"word.{muscle.side}"), self(f"word.{muscle.role}")
        return self("form.muscle", name=muscle.name, side=side, role=role)
