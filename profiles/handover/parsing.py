"""The hand-over's tables read back from CSV, whoever made them: every cell is held to its column before it counts.

A seal says which computer sent a hand-over, not that the computer was sound. So numbers are finite and bounded, times
carry an offset, words are among those that are known, and there are no more rows than many years of exercise have.
"""

from __future__ import annotations

import csv
import io
import math
import typing
from collections.abc import Callable, Iterator, Mapping
from dataclasses import fields
from datetime import datetime
from functools import cache, partial
from typing import Any
from zoneinfo import ZoneInfo

from musclewood.assets.saying import say
from musclewood.profiles.disk.plain_text import QUOTE
from musclewood.profiles.handover.columns import EFFORTS, LATER, PROFILE, TABLES, columns_of, list_columns
from musclewood.profiles.handover.tables import known_columns
from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.journal.records import Record, RepRecord, SessionEnd, SessionStart, from_plain

# Measured: two years of daily sessions have 33 thousand records and a million points of effort. Our choice: ten times
# as many, which still fit into 512 MB.
MOST_RECORDS = 350_000
MOST_POINTS = 10_000_000
MOST_POINTS_A_REP = 1000
# No figure of a body comes near it, and its square is still a number. Our choice.
LARGEST_NUMBER = 1e9
LONGEST_TEXT = 2000
YEARS = range(1990, 2201)


def sessions_from_csv(tables: Mapping[str, bytes], *, efforts: bool = True) -> tuple[LedgerSession, ...]:
    """The sessions again, the oldest first; without the course of effort in each repetition if it is not wanted.

    Raises ValueError, TypeError or KeyError if a table is not as this program writes it.
    """
    courses = _courses(tables[EFFORTS], efforts)
    records: dict[int, list[tuple[int, Record]]] = {}
    count = 0
    for name, kind in TABLES.items():
        if name in LATER and name not in tables:
            continue
        for row in rows_of(name, tables[name]):
            count += 1
            _at_most(count, MOST_RECORDS, "records")
            session, order = row.pop("session"), row.pop("order")
            if kind is RepRecord:
                row[PROFILE] = courses.get((session, order), ())
            records.setdefault(session, []).append((order, from_plain(kind, row)))
    sessions: dict[int, LedgerSession] = {}
    for row in rows_of("sessions", tables["sessions"]):
        number = row["session"]
        if number in sessions:
            raise ValueError(f"session {number} is there twice")
        _at_most(len(sessions), MOST_RECORDS, "sessions")
        in_order = sorted(records.get(number, ()), key=lambda entry: entry[0])
        sessions[number] = _session(number, row, tuple(record for _, record in in_order))
    return tuple(sessions.values())


def rows_of(name: str, content: bytes) -> Iterator[dict[str, Any]]:
    """Every row of one table, its cells as values. Raises ValueError, naming the row and the column."""
    converters = _converters(name)
    reader = csv.reader(io.StringIO(content.decode("utf-8"), newline=""), strict=True)
    try:
        header = next(reader, [])
        if not known_columns(name, header):
            raise ValueError(say("wrong.csv-columns", name=name))
        converters = {column: converters[column] for column in header}
        for number, cells in enumerate(reader, start=2):
            if len(cells) != len(converters):
                raise ValueError(
                    say("wrong.csv-cells", name=name, number=number, count=len(cells), wanted=len(converters))
                )
            column = ""
            try:
                row = {}
                for (column, convert), text in zip(converters.items(), cells, strict=True):
                    row[column] = convert(text)
            except (ValueError, OverflowError) as error:
                raise ValueError(say("wrong.csv-cell", name=name, number=number, column=column, error=error)) from None
            yield row
    except csv.Error as error:
        raise ValueError(say("wrong.csv", name=name, error=error)) from None


def moment(text: str) -> datetime:
    """An ISO 8601 moment with its offset, in a year that somebody can have exercised in. Raises ValueError."""
    try:
        found = datetime.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{text[:40]!r} is no moment such as 2026-11-25T18:30:00+01:00") from None
    if found.tzinfo is None:
        raise ValueError(f"{text[:40]!r} has no offset from UTC")
    if found.year not in YEARS:
        raise ValueError(f"the year {found.year} cannot be right")
    return found


def _session(number: int, row: Mapping[str, Any], records: tuple[Record, ...]) -> LedgerSession:
    start = from_plain(SessionStart, {field.name: row[field.name] or _blank(field) for field in fields(SessionStart)})
    if not start.patient or not isinstance(start.revision, int) or not start.source or not start.started_at:
        raise ValueError(f"session {number} does not say whose it is, or when it was")
    _known_zone(start.zone)
    end = None
    if row["ended_at"] is not None:
        end = from_plain(SessionEnd, {field.name: row[field.name] for field in fields(SessionEnd)})
        if not end.ending:
            raise ValueError(f"session {number} does not say how it ended")
    return LedgerSession(number, start, end, records)


def _known_zone(name: str) -> None:
    try:
        if name:
            ZoneInfo(name)
    except (ValueError, OSError, KeyError):
        raise ValueError(f"{name[:40]!r} is no time zone") from None


def _courses(content: bytes, kept: bool) -> dict[tuple[int, int], tuple[float, ...]]:
    courses: dict[tuple[int, int], tuple[float, ...]] = {}
    points = 0
    for row in rows_of(EFFORTS, content):
        course = row[PROFILE]
        points += len(course)
        _at_most(points, MOST_POINTS, "points of effort")
        if kept:
            courses[row["session"], row["order"]] = course
    return courses


def _blank(field: Any) -> Any:
    return "" if field.default == "" else None


@cache
def _converters(name: str) -> dict[str, Callable[[str], Any]]:
    """What makes a value of a cell, for each column in order."""
    lists, words = list_columns(name), _words(name)
    plain = {"integer": _whole, "number": _number, "boolean": _flag, "datetime": _datetime}
    return {
        column: _numbers if column in lists else words.get(column) or plain.get(kind, _text)
        for column, kind in columns_of(name).items()
    }


def _words(name: str) -> dict[str, Callable[[str], str | None]]:
    """Columns in which only some words are known. A session that is open has no ending yet."""
    found: dict[str, Callable[[str], str | None]] = {}
    for kind in (SessionStart, SessionEnd) if name == "sessions" else () if name == EFFORTS else (TABLES[name],):
        for column, hint in typing.get_type_hints(kind).items():
            options = typing.get_args(hint)
            if options and all(isinstance(option, str) for option in options):
                found[column] = partial(_word, frozenset((*options, "")) if column == "ending" else frozenset(options))
    return found


def _word(known: frozenset[str], text: str) -> str | None:
    if text not in known:
        raise ValueError(f"{text[:40]!r} is not known here")
    return text or None


def _whole(text: str) -> int | None:
    if text and (len(text) > 11 or abs(int(text)) > LARGEST_NUMBER):
        raise ValueError(f"{text[:40]!r} is too large")
    return int(text) if text else None


def _number(text: str) -> float | None:
    """An empty cell is a figure that could not be measured."""
    if text == "":
        return None
    number = float(text)
    if not -LARGEST_NUMBER <= number <= LARGEST_NUMBER:
        raise ValueError(f"{text[:40]!r} is no figure that can be measured")
    return number


def _flag(text: str) -> bool | None:
    if text not in ("true", "false", ""):
        raise ValueError(f"{text[:40]!r} is neither true nor false")
    return text == "true" if text else None


def _datetime(text: str) -> str | None:
    if text:
        moment(text)
    return text or None


def _text(text: str) -> str | None:
    if len(text) > LONGEST_TEXT:
        raise ValueError(f"a text of {len(text)} letters")
    return text.removeprefix(QUOTE) if text else None


def _numbers(text: str) -> tuple[float, ...]:
    parts = text.split(maxsplit=MOST_POINTS_A_REP)
    _at_most(len(parts), MOST_POINTS_A_REP, "points in a cell")
    numbers = tuple(map(float, parts))
    bounded = [number for number in numbers if not math.isnan(number)] if "n" in text else numbers
    if bounded and not -LARGEST_NUMBER <= min(bounded) <= max(bounded) <= LARGEST_NUMBER:
        raise ValueError("a point is no figure that can be measured")
    return numbers


def _at_most(count: int, most: int, what: str) -> None:
    if count > most:
        raise ValueError(f"more than {most} {what}")
