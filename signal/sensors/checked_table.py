"""Read a TOML table key by key and collect every fault, so that the writer of the file sees them all at once."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from musclewood.assets.saying import Saying, say


@dataclass(frozen=True, slots=True)
class DescriptionFault:
    """One line: where in the file (`packet.samples`), what is wrong there, what would be right."""

    key_path: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        return self.line

    @property
    def line(self) -> Saying:
        """All of it, for a person."""
        return say("wrong.at", place=self.key_path, problem=self.problem, remedy=self.remedy)


class CheckedTable:
    """A table whose readers return a usable value even after a fault, so that reading can go on to the next key.

    `close()` must be called last: it reports the keys that nobody asked for.
    """

    def __init__(self, content: dict[str, Any], faults: list[DescriptionFault], path: str = "") -> None:
        self._content = content
        self._faults = faults
        self._path = path
        self._asked: list[str] = []

    def has(self, key: str) -> bool:
        """Whether the key is there; asking makes it a known key."""
        self._asked.append(key)
        return key in self._content

    def fault(self, key: str, problem: str, remedy: str) -> None:
        """Report a fault found by the caller, for example one that concerns two keys."""
        self._faults.append(DescriptionFault(self._path + key, problem, remedy))

    def table(self, key: str) -> CheckedTable:
        """The table under `key`; if it is absent an empty one, whose own missing keys are not reported again."""
        value = self._value(key, dict, say("wanted.table"), None)
        sink = self._faults if isinstance(value, dict) else []
        return CheckedTable(value if isinstance(value, dict) else {}, sink, f"{self._path}{key}.")

    def text(self, key: str, default: str | None = None) -> str:
        value = self._value(key, str, say("wanted.text"), default)
        if isinstance(value, str) and (value.strip() or value == default):
            return value
        if isinstance(value, str):
            self.fault(key, say("sensor-text.empty"), say("mend.one-letter"))
        return ""

    def choice(self, key: str, allowed: Sequence[str], default: str | None = None) -> str:
        known = ", ".join(allowed)
        value = self._value(key, str, say("wanted.one-of", known=known), default)
        if value in allowed:
            return str(value)
        if value is not None:
            near = difflib.get_close_matches(str(value), allowed, 1)
            remedy = say("mend.did-you-mean-of", name=near[0], known=known) if near else say("mend.allowed", what=known)
            self.fault(key, say("sensor-text.is-text", value=value), remedy)
        return allowed[0]

    def whole(self, key: str, low: int, high: int, default: int | None = None) -> int:
        value = self._value(key, int, say("wanted.whole-within", low=low, high=high), default)
        if value is None:
            return low
        if not low <= value <= high:
            self.fault(key, say("sensor-text.is", value=value), say("mend.range", low=low, high=high))
            return low
        return int(value)

    def number(self, key: str, low: float, high: float, default: float | None = None) -> float:
        value = self._value(key, (int, float), say("wanted.number-within", low=low, high=high), default)
        return low if value is None else self._within(key, float(value), low, high)

    def flag(self, key: str, default: bool) -> bool:
        return bool(self._value(key, bool, say("wanted.truth"), default))

    def numbers(self, key: str, count: int, low: float, high: float, default: float | None = None) -> tuple[float, ...]:
        """One number for all, or a list of `count` numbers; always returns `count` of them."""
        value = self._value(key, (int, float, list), say("wanted.number-or-list", count=count), default)
        if value is None:
            return (low,) * count
        if not isinstance(value, list):
            return (self._within(key, float(value), low, high),) * count
        if len(value) != count or not all(_is(item, (int, float)) for item in value):
            self.fault(key, say("sensor-text.is", value=value), say("mend.number-each", count=count))
            return (low,) * count
        return tuple(self._within(key, float(item), low, high) for item in value)

    def texts(self, key: str, low: int, high: int) -> tuple[str, ...]:
        """A list of `low` to `high` different texts."""
        wanted = say("wanted.names", low=low, high=high)
        value = self._value(key, list, wanted, None)
        if value is None:
            return ("",) * low
        good = all(isinstance(item, str) and item.strip() for item in value) and low <= len(value) <= high
        if not good or len(set(value)) != len(value):
            self.fault(key, say("sensor-text.is", value=value), say("mend.use", what=wanted))
            return ("",) * low
        return tuple(value)

    def close(self) -> None:
        """Report every key that no reader asked for, with the nearest known one."""
        for key in self._content:
            if key not in self._asked:
                near = difflib.get_close_matches(key, self._asked, 1)
                known = ", ".join(sorted(set(self._asked)))
                remedy = say("mend.did-you-mean", name=near[0]) if near else say("mend.known-keys", known=known)
                self.fault(key, say("sensor-text.unknown-key"), remedy)

    def _value(self, key: str, kinds: type | tuple[type, ...], wanted: str, default: Any) -> Any:
        self._asked.append(key)
        if key not in self._content:
            if default is None:
                self.fault(key, say("sensor-text.missing"), say("mend.add-what", what=wanted))
            return default
        value = self._content[key]
        if not _is(value, kinds):
            self.fault(key, say("sensor-text.is", value=repr(value)), say("mend.use", what=wanted))
            return None
        return value

    def _within(self, key: str, value: float, low: float, high: float) -> float:
        if low <= value <= high:
            return value
        self.fault(key, say("sensor-text.is", value=f"{value:g}"), say("mend.range", low=f"{low:g}", high=f"{high:g}"))
        return low


def _is(value: object, kinds: type | tuple[type, ...]) -> bool:
    """isinstance, except that true and false are not numbers."""
    if isinstance(value, bool):
        return kinds is bool
    return isinstance(value, kinds)
