"""What is wrong with a field, in one short line and in the reader's language.

The rules write their faults in English. Here the usual ones are recognised by their shape and said anew; the rest stay
as they are.
"""

from __future__ import annotations

import re

from musclewood.games.kit.words import Words
from musclewood.profiles.errors import Fault
from musclewood.profiles.orders.draft_fields import Field

# Shapes of a problem or remedy, each with the key of the sentence that says the same under desk.fault.
_SHAPES: tuple[tuple[str, str], ...] = (
    (r"allowed (?P<low>\S+) to (?P<high>\S+?)(?: \(min to max\))?", "range"),
    (r"allowed up to (?P<high>\S+)", "up-to"),
    (r"order less, or raise the ceiling on purpose", "ceiling"),
    (r"choose a later (?:review )?date(?: or leave it out)?", "later"),
    (r"use a date such as .*", "date"),
    (r"use (?:a number|a finite number)(?:, allowed (?P<low>\S+) to (?P<high>\S+))?", "number"),
    (r"use a whole number(?:, allowed (?P<low>\S+) to (?P<high>\S+))?", "whole"),
    (r"add it(?:; allowed (?P<low>\S+) to (?P<high>\S+))?", "missing"),
    (r"add it; allowed .* entries", "missing"),
    (r"give every muscle its own channel, 0 to 15", "channel"),
    (r"give every muscle its own id", "muscle-twice"),
    (r"list exactly (?P<count>\d)", "muscles"),
    (r"list two different muscles", "two-muscles"),
    (r"known muscles: .*", "no-muscle"),
    (r"raise min_pct_mvc, or widen the gap from max to ceiling", "band"),
    (r"allowed 1 to 7 entries", "days"),
    (r"list each day once", "days"),
    (r"order less", "less"),
    (r"choose one of (?P<listed>.*)", "listed"),
    (r"allowed (?P<low>\d+) to (?P<high>\d+) entries", "entries"),
)


def told_fault(words: Words, fault: Fault, field: Field | None) -> str:
    """The remedy, with what led to it where that is short."""
    for shape, key in _SHAPES:
        if found := re.fullmatch(shape, fault.remedy):
            return _said(words, key, found.groupdict(), fault, field)
    return f"{fault.problem}; {fault.remedy}"


def _said(words: Words, key: str, figures: dict[str, str | None], fault: Fault, field: Field | None) -> str:
    unit = f" {field.unit}" if field and field.unit else ""
    if key in ("number", "whole", "missing") and figures.get("low") is None:
        return words(f"desk.fault.{key}")
    if key == "ceiling":
        numbers = re.findall(r"[\d.]+", fault.problem)
        return words("desk.fault.ceiling", ordered=numbers[0] if numbers else "?")
    filled = {name: _plain(value or "") for name, value in figures.items()}
    if key in ("number", "whole", "missing"):
        return f"{words(f'desk.fault.{key}')} {words('desk.fault.range', **filled)}{unit}"
    return words(f"desk.fault.{key}", **filled) + (unit if key in ("range", "up-to") else "")


def _plain(number: str) -> str:
    """'120.0' as '120'."""
    try:
        return f"{float(number):g}"
    except ValueError:
        return number
