"""What is wrong with a field, in one short line and in the reader's language."""

from __future__ import annotations

from musclewood.assets.saying import Saying
from musclewood.games.kit.words import Words
from musclewood.profiles.errors import Fault
from musclewood.profiles.orders.draft_fields import Field

# Remedies that the form says more shortly than a file's fault does: their codes, and the keys under `desk.fault`.
_SHORTER = {
    "mend.range": "range",
    "mend.up-to": "up-to",
    "mend.less-or-raise": "ceiling",
    "mend.later-review": "later",
    "mend.later-date": "later",
    "mend.add": "missing",
    "mend.add-within": "missing",
    "mend.own-channel": "channel",
    "mend.own-muscle-id": "muscle-twice",
    "mend.list-exactly": "muscles",
    "mend.two-different-muscles": "two-muscles",
    "mend.known-muscles": "no-muscle",
    "mend.band-room": "band",
    "mend.days-once": "days",
    "mend.order-less": "less",
    "mend.choose-one": "listed",
    "mend.entries": "entries",
}
_WANTED = {
    "wanted.date": "date",
    "wanted.number": "number",
    "wanted.finite-number": "number",
    "wanted.whole-number": "whole",
}


def told_fault(words: Words, fault: Fault, field: Field | None) -> str:
    """The remedy, with what led to it where that is short."""
    remedy = fault.remedy
    key = _key(remedy) if isinstance(remedy, Saying) else None
    if key is None or not isinstance(remedy, Saying):
        return f"{words.said(fault.problem)}; {words.said(fault.remedy)}"
    unit = f" {field.unit}" if field and field.unit else ""
    figures = {name: _plain(value) for name, value in remedy.values.items()}
    match key:
        case "range" | "up-to":
            return words(f"desk.fault.{key}", **figures) + unit
        case "ceiling":
            ordered = fault.problem.values["ordered"] if isinstance(fault.problem, Saying) else "?"
            return words("desk.fault.ceiling", ordered=_plain(ordered))
        case "number" | "whole" | "missing":
            allowed = remedy.values.get("allowed")
            told = words(f"desk.fault.{key}")
            if not isinstance(allowed, Saying) or allowed.code != "mend.range":
                return told
            bounds = {name: _plain(value) for name, value in allowed.values.items()}
            return f"{told} {words('desk.fault.range', **bounds)}{unit}"
        case "muscles":
            return words("desk.fault.muscles", count=remedy.values["wanted"])
        case "listed":
            return words("desk.fault.listed", listed=remedy.values["known"])
        case _:
            return words(f"desk.fault.{key}", **figures)


def _key(remedy: Saying) -> str | None:
    if remedy.code in ("mend.use", "mend.use-within"):
        what = remedy.values["what"]
        return _WANTED.get(what.code) if isinstance(what, Saying) else None
    if remedy.code == "mend.entries" and (remedy.values["low"], remedy.values["high"]) == (1, 7):
        return "days"
    return _SHORTER.get(remedy.code)


def _plain(number: object) -> str:
    """'120.0' as '120'."""
    try:
        return f"{float(str(number)):g}"
    except ValueError:
        return str(number)
