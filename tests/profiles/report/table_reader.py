"""A reader who has only the tables of a hand-over, and holds every sentence of a report's first page against them.

Nothing here imports the program: figures are computed from CSV and TOML by other code than the report's.
"""

from __future__ import annotations

import csv
import io
import itertools
import math
import re
import tomllib
import zipfile
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
Rows = list[dict[str, str]]


@dataclass
class Tables:
    """What a hand-over holds, and what follows from it by counting."""

    sessions: Rows
    sets: Rows
    repetitions: Rows
    calibrations: Rows
    ratings: Rows
    scaling: Rows
    orders: list[dict[str, Any]]
    created: datetime
    zone: ZoneInfo = field(init=False)

    def __post_init__(self) -> None:
        self.zone = ZoneInfo(self.order["timezone"])
        self.real = {row["session"]: row for row in self.sessions if row["practice"] == "false"}
        self.day = {key: self.day_of(row["started_at"]) for key, row in self.real.items()}
        self.reps = [row for row in self.repetitions if row["session"] in self.real]

    @property
    def order(self) -> dict[str, Any]:
        return max(self.orders, key=lambda order: order["revision"])

    def day_of(self, moment: str) -> date:
        return datetime.fromisoformat(moment).astimezone(self.zone).date()

    def order_on(self, day: date) -> dict[str, Any] | None:
        issued = [order for order in self.orders if order["issued"] <= day]
        if not issued:
            return None
        latest = max(issued, key=lambda order: (order["issued"], order["revision"]))
        return None if latest.get("expires") and day > latest["expires"] else latest

    @property
    def last(self) -> date:
        today = self.created.astimezone(self.zone).date()
        done = {self.day[row["session"]] for row in self.reps}
        return today if today in done else today - timedelta(days=1)

    def share(self) -> dict[str, Any]:
        """The latest four weeks: capped share, made, ordered, days done of days due."""
        first = max(min(order["issued"] for order in self.orders), self.last - timedelta(days=27))
        days = [first + timedelta(days=n) for n in range((self.last - first).days + 1)]
        ordered = made = kept = due = on_due = tried = 0
        for day in days:
            order = self.order_on(day)
            asked = {}
            times = 0
            if order and WEEK[day.weekday()] in order["days"]:
                asked = {one["id"]: one["sets"] * one["reps"] for one in order["exercises"]}
                times, due = order["sessions_per_day"], due + 1
            whole = times * sum(asked.values())
            of_day: dict[str, Counter[str]] = defaultdict(Counter)
            attempts = 0
            for row in self.reps:
                if self.day[row["session"]] == day:
                    attempts += 1
                    of_day[row["session"]][row["exercise_id"]] += row["verdict"] == "counted"
            ordered += whole
            made += sum(count.total() for count in of_day.values())
            kept += min(whole, sum(min(n, asked.get(key, 0)) for c in of_day.values() for key, n in c.items()))
            on_due += bool(attempts and times)
            tried += bool(attempts)
        return {"share": 100 * kept / ordered if ordered else None, "made": made, "ordered": ordered, "due": due,
                "days": on_due, "tried": tried, "first": first, "last": self.last, "length": len(days)}  # fmt: skip

    def pains(self, session: str) -> list[int]:
        return [int(row["value"]) for row in self.ratings if row["session"] == session and row["what"] == "pain"]

    def maxima(self, muscle: str) -> list[tuple[datetime, float, str]]:
        """One value a day and sensor: the geometric mean."""
        found: dict[tuple[date, str], list[tuple[datetime, float]]] = {}
        for row in self.calibrations:
            if row["session"] in self.real and row["muscle"] == muscle and float(row["mvc_uv"] or "nan") > 0:
                session = self.real[row["session"]]
                at = datetime.fromisoformat(session["started_at"])
                found.setdefault((at.date(), session["sensor"]), []).append((at, float(row["mvc_uv"])))
        return [
            (same[-1][0], math.exp(sum(math.log(v) for _, v in same) / len(same)), sensor)
            for (_, sensor), same in found.items()
        ]

    def change(self, muscle: str, days: int) -> tuple[float, int]:
        """The middle of all pairs' slopes over the first `days` days, in %, and Kendall's balance."""
        values = self.maxima(muscle)[:days]
        slopes, balance = [], 0
        for (at, one, sensor), (later, other, same) in itertools.combinations(values, 2):
            if sensor == same:
                rise = math.log(other / one)
                balance += (rise > 0) - (rise < 0)
                slopes.append(rise / max(1e-3 * 7 / 3, abs((later - at).total_seconds()) / 86400))
        slopes.sort()
        middle = (slopes[(len(slopes) - 1) // 2] + slopes[len(slopes) // 2]) / 2
        span = max(abs((at - values[0][0]).total_seconds()) for at, _, _ in values) / 86400
        return 100 * math.expm1(middle * span), balance


def tables_of(content: bytes) -> Tables:
    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        text = {name: archive.read(name).decode() for name in archive.namelist()}
    import json

    read = {name: list(csv.DictReader(io.StringIO(text[f"{name}.csv"], newline=""))) for name in (
        "sessions", "sets", "repetitions", "calibrations", "ratings", "scaling")}  # fmt: skip
    orders = [tomllib.loads(text[name]) for name in sorted(text) if name.endswith(".toml")]
    created = datetime.fromisoformat(json.loads(text["datapackage.json"])["created"])
    return Tables(**read, orders=orders, created=created)


MONTHS = {
    "en": [
        "January",
        "February",
        "March",
        "April",
        "May",
        "June",
        "July",
        "August",
        "September",
        "October",
        "November",
        "December",
    ],
    "de": [
        "Januar",
        "Februar",
        "März",
        "April",
        "Mai",
        "Juni",
        "Juli",
        "August",
        "September",
        "Oktober",
        "November",
        "Dezember",
    ],
}


def said_day(day: date, language: str) -> str:
    return f"{day.day}{'.' if language == 'de' else ''} {MONTHS[language][day.month - 1]} {day.year}"


def said_number(value: float) -> str:
    text = f"{value:.0f}"
    return "0" if text == "-0" else text


def numbers(sentence: str) -> list[float]:
    return [float(one.replace(",", ".")) for one in re.findall(r"[-+]?\d+(?:[.,]\d+)?", sentence)]
