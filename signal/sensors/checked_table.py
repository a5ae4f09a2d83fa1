"""Read a TOML table key by key and collect every fault, so that the writer of the file sees them all at once."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True, slots=True)
class DescriptionFault:
    """One line: where in the file (`packet.samples`), what is wrong there, what would be right."""

    key_path: str
    problem: str
    remedy: str

    def __str__(self) -> str:
        return f"{self.key_path}: {self.problem}; {self.remedy}"


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
        value = self._value(key, dict, "a table", None)
        sink = self._faults if isinstance(value, dict) else []
        return CheckedTable(value if isinstance(value, dict) else {}, sink, f"{self._path}{key}.")

    def text(self, key: str, default: str | None = None) -> str:
        value = self._value(key, str, "text in quotes", default)
        if isinstance(value, str) and (value.strip() or value == default):
            return value
        if isinstance(value, str):
            self.fault(key, "is empty", "write at least one visible character")
        return ""

    def choice(self, key: str, allowed: Sequence[str], default: str | None = None) -> str:
        value = self._value(key, str, "one of " + ", ".join(allowed), default)
        if value in allowed:
            return str(value)
        if value is not None:
            near = difflib.get_close_matches(str(value), allowed, 1)
            hint = f"did you mean '{near[0]}'? " if near else ""
            self.fault(key, f"is '{value}'", f"{hint}allowed: {', '.join(allowed)}")
        return allowed[0]

    def whole(self, key: str, low: int, high: int, default: int | None = None) -> int:
        value = self._value(key, int, f"a whole number from {low} to {high}", default)
        if value is None:
            return low
        if not low <= value <= high:
            self.fault(key, f"is {value}", f"allowed: {low} to {high}")
            return low
        return int(value)

    def number(self, key: str, low: float, high: float, default: float | None = None) -> float:
        value = self._value(key, (int, float), f"a number from {low:g} to {high:g}", default)
        return low if value is None else self._within(key, float(value), low, high)

    def flag(self, key: str, default: bool) -> bool:
        return bool(self._value(key, bool, "true or false", default))

    def numbers(self, key: str, count: int, low: float, high: float, default: float | None = None) -> tuple[float, ...]:
        """One number for all, or a list of `count` numbers; always returns `count` of them."""
        value = self._value(key, (int, float, list), f"a number, or a list of {count} numbers", default)
        if value is None:
            return (low,) * count
        if not isinstance(value, list):
            return (self._within(key, float(value), low, high),) * count
        if len(value) != count or not all(_is(item, (int, float)) for item in value):
            self.fault(key, f"is {value}", f"write one number, or a list of {count} numbers, one per channel")
            return (low,) * count
        return tuple(self._within(key, float(item), low, high) for item in value)

    def texts(self, key: str, low: int, high: int) -> tuple[str, ...]:
        """A list of `low` to `high` different texts."""
        remedy = f"write a list of {low} to {high} different names in quotes"
        value = self._value(key, list, remedy.removeprefix("write "), None)
        if value is None:
            return ("",) * low
        good = all(isinstance(item, str) and item.strip() for item in value) and low <= len(value) <= high
        if not good or len(set(value)) != len(value):
            self.fault(key, f"is {value}", remedy)
            return ("",) * low
        return tuple(value)

    def close(self) -> None:
        """Report every key that no reader asked for, with the nearest known one."""
        for key in self._content:
            if key not in self._asked:
                near = difflib.get_close_matches(key, self._asked, 1)
                remedy = f"did you mean '{near[0]}'?" if near else f"known keys: {', '.join(sorted(set(self._asked)))}"
                self.fault(key, "is not a known key", remedy)

    def _value(self, key: str, kinds: type | tuple[type, ...], wanted: str, default: Any) -> Any:
        self._asked.append(key)
        if key not in self._content:
            if default is None:
                self.fault(key, "is missing", f"add {wanted}")
            return default
        value = self._content[key]
        if not _is(value, kinds):
            self.fault(key, f"is {value!r}", f"write {wanted}")
            return None
        return value

    def _within(self, key: str, value: float, low: float, high: float) -> float:
        if low <= value <= high:
            return value
        self.fault(key, f"is {value:g}", f"allowed: {low:g} to {high:g}")
        return low


def _is(value: object, kinds: type | tuple[type, ...]) -> bool:
    """isinstance, except that true and false are not numbers."""
    if isinstance(value, bool):
        return kinds is bool
    return isinstance(value, kinds)
