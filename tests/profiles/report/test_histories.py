"""Thirty invented histories: every sentence of the first page and of the patient's page is true by the tables alone."""

from __future__ import annotations

import importlib.util
import random
import re
import sys
from dataclasses import replace
from datetime import date, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from musclewood.profiles.handover.merging import merged
from musclewood.profiles.handover.package import pack
from musclewood.profiles.handover.reading import read_handover
from musclewood.profiles.journal.ledger import Ledger, LedgerSession
from musclewood.profiles.journal.records import (
    CalibrationRecord,
    RatingRecord,
    Record,
    RepRecord,
    SessionEnd,
    SessionStart,
    SetRecord,
)
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.orders.templates import template
from musclewood.profiles.report.opening import answers, considerations
from musclewood.profiles.report.past import past_of
from musclewood.profiles.report.patient import patient_page
from musclewood.profiles.report.words import Words, catalogue

_spec = importlib.util.spec_from_file_location("musclewood_report_reader", Path(__file__).with_name("reader.py"))
assert _spec is not None and _spec.loader is not None
reader = sys.modules.setdefault(_spec.name, importlib.util.module_from_spec(_spec))
_spec.loader.exec_module(reader)
numbers, said_day, said_number, tables_of = reader.numbers, reader.said_day, reader.said_number, reader.tables_of
Tables = Any  # of the reader

HISTORIES = 30
FIRST = date(2026, 3, 16)  # two weeks before the clocks change
KINDS = (
    "plain",
    "paused",
    "travelling",
    "revised",
    "three sources",
    "second computer",
    "none",
    "sore",
    "growing",
    "both",
)


def a_history(number: int) -> tuple[Ledger, list[Prescription]]:
    """A ledger and its orders, the oldest first."""
    dice, kind = random.Random(number), KINDS[number % len(KINDS)]
    name = "ankle-after-sprain" if kind == "both" else "weak-thigh-after-knee-operation"
    first = template(name).model_copy(update={"issued": FIRST, "review": FIRST + timedelta(days=dice.choice((21, 42)))})
    orders = [first]
    if kind == "revised":
        less = first.exercises[0].model_copy(update={"sets": 1})
        for revision, day in ((2, 9), (3, 23)):
            issued = {"revision": revision, "issued": FIRST + timedelta(days=day), "days": ("mon", "wed", "fri")}
            issued["review"] = max(first.review, FIRST + timedelta(days=day + 14))
            orders.append(first.model_copy(update=issued | {"exercises": (less, *first.exercises[1:])}))
    length = dice.choice((3, 12, 40, 75))
    sessions: list[LedgerSession] = []
    for offset in range(length if kind != "none" else 0):
        day = FIRST + timedelta(days=offset)
        if kind == "paused" and 8 <= offset < 20:
            continue
        if DAYS[day.weekday()] in orders[-1].days and dice.random() < 0.8:
            order = max((one for one in orders if one.issued <= day), key=lambda one: one.revision)
            sessions.append(_session(order, len(sessions) + 1, day, kind, offset, dice))
    ledger = Ledger(tuple(sessions), "0" * 64)
    if kind == "second computer":
        half = len(sessions) // 2
        other = [replace(one, start=replace(one.start, sensor="another")) for one in sessions[half:]]
        ledger = merged([Ledger(tuple(sessions[: half + 1])), Ledger(tuple(other))])
    return ledger, orders


def _session(order: Prescription, number: int, day: date, kind: str, offset: int, dice: random.Random) -> LedgerSession:
    zone = ZoneInfo("America/New_York" if kind == "travelling" and offset % 2 else "Europe/Prague")
    started = datetime(day.year, day.month, day.day, dice.randint(8, 15), 30, tzinfo=zone)
    source: Any = dice.choice(("ble", "lsl", "replay", "keyboard")) if kind == "three sources" else "ble"
    highest = dice.choice((0, 1, 2, 3, 6)) if kind == "sore" else dice.choice((0, 0, 1, 2))
    records: list[Record] = [RatingRecord(1.0, "pain", 0, "before")]
    grown = 1.02**number if kind == "growing" else 1.0
    for muscle in order.muscles:
        mvc = 150 * grown * 2.718 ** dice.gauss(0, 0.12)
        records.append(CalibrationRecord(muscle.id, muscle.channel, 30.0, 3.0, mvc, 0.03, (mvc,), mvc))
    ending: Any = "pain" if highest >= order.stop.pain_stop or highest >= order.stop.pain_rise_stop else "complete"
    for exercise in order.exercises:
        made = 0
        for rep in range(1, exercise.sets * exercise.reps + 1):
            verdict: Any = "counted" if dice.random() < 0.85 else dice.choice(("short", "weak", "over"))
            made += verdict == "counted"
            effort = exercise.effort
            records.append(RepRecord(
                exercise.id, exercise.kind, exercise.workshops[0], 1, rep, verdict, 9.0 * rep, 9.0 * rep + 5, 5.0, 4.5,
                effort.target_pct_mvc, 44.0, 0.9, 80.0, effort.target_pct_mvc, effort.tolerance_pct_mvc,
            ))  # fmt: skip
        records.append(SetRecord(exercise.id, 1, exercise.reps, made, exercise.reps, 0.0, 99.0, quality="good"))
    records.append(RatingRecord(700.0, "pain", highest, "after" if number % 2 else "during"))
    start = SessionStart(order.patient, order.revision, source, started.isoformat(), "Europe/Prague", "two-channel-raw")
    end = SessionEnd((started + timedelta(minutes=14)).isoformat(), ending)
    return LedgerSession(number, start, end, tuple(records))


def pattern(language: str, key: str) -> re.Pattern[str]:
    """The sentence of a key, with what is filled in as named groups (digits, dates and titles alike)."""
    table: Any = catalogue(language)
    for part in key.split("."):
        table = table[part]
    text = re.escape(table.replace(" %", "\u00a0%"))
    return re.compile("^" + re.sub(r"\\\{(\w+)\\\}", r"(?P<\1>.+?)", text) + "$")


def check(tables: Tables, language: str, said: list[str], made_on: date) -> None:
    """Every sentence is one that is known, and true."""
    for sentence in said:
        checks = [
            (key, found, verify)
            for key, verify in CHECKS.items()
            if (found := pattern(language, key).match(sentence)) is not None
        ]
        assert checks, f"nobody checks: {sentence}"
        assert any(verify(tables, language, found.groupdict(), made_on) for _, found, verify in checks), sentence


def _share(t: Tables, language: str, f: dict[str, str], _: date) -> bool:
    seen = t.share()
    whole = {"made": seen["made"], "ordered": seen["ordered"], "days": seen["days"], "due": seen["due"]}
    edge = seen["last"] if seen["length"] >= 28 else seen["first"]
    named = said_day(edge, language) in f["period"]
    return named and f["share"] == said_number(seen["share"]) and all(f[k] == str(v) for k, v in whole.items())


def _missed(t: Tables, language: str, f: dict[str, str], _: date) -> bool:
    return int(f.get("n", "1")) == _missed_days(t)


def _missed_days(t: Tables) -> int:
    first = min([order["issued"] for order in t.orders] + list(t.day.values()))
    missed = 0
    for n in range((t.last - first).days + 1):
        day = first + timedelta(days=n)
        order = t.order_on(day)
        if order is None or DAYS[day.weekday()] not in order["days"]:
            continue
        asked = {one["id"]: one["sets"] * one["reps"] for one in order["exercises"]}
        kept = 0
        for session in {key for key, on in t.day.items() if on == day}:
            rows = [r for r in t.reps if r["session"] == session and r["verdict"] == "counted"]
            kept += sum(min(sum(r["exercise_id"] == key for r in rows), most) for key, most in asked.items())
        whole = order["sessions_per_day"] * sum(asked.values())
        missed += min(kept, whole) < 0.8 * whole
    return missed


def _highest(t: Tables, language: str, f: dict[str, str], _: date) -> bool:
    pains = {key: max(p) for key in t.real if (p := t.pains(key))}
    top = max(pains.values())
    days = {said_day(t.day[key], language) for key, value in pains.items() if value == top}
    return int(f["value"]) == top and f["day"] in days


def _ended_by_pain(t: Tables, after: bool) -> list[str]:
    """Sessions in which the answer that called for a stop came before the end, or after it."""
    asked = {row["session"] for row in t.ratings if (row["what"], row["moment"]) == ("pain", "after")}
    return [key for key, row in t.real.items() if row["ending"] == "pain" and (key in asked) == after]


def _ended(t: Tables, language: str, f: dict[str, str], _: date, after: bool = False) -> bool:
    ended = _ended_by_pain(t, after)
    stop = t.order["stop"]
    for key in ended[-3:]:
        words = said_day(t.day[key], language)
        rule = "at_level" if max(t.pains(key)) >= stop["pain_stop"] else "by_rise"
        level = stop["pain_stop"] if rule == "at_level" else stop["pain_rise_stop"]
        if catalogue(language)["pain"][rule].format(day=words, level=level) not in f["list"]:
            return False
    return int(f.get("n", "1")) == len(ended)


def _eased(t: Tables, language: str, f: dict[str, str], _: date) -> bool:
    level = t.order["stop"]["pain_lighten"]
    return (
        int(f.get("n", "1")) == sum(max(t.pains(key), default=0) >= level for key in t.real)
        and int(f["level"]) == level
    )


def _effort(t: Tables, language: str, f: dict[str, str], _: date) -> bool:
    exercise = next(one for one in t.order["exercises"] if one["title"] == f["exercise"])
    rows = [row for row in t.reps if row["exercise_id"] == exercise["id"]]
    made = sum(row["verdict"] == "counted" for row in rows)
    aim = said_number(100 * exercise["scaling"]["success_target"])
    target = f"{float(rows[-1]['target_pct_mvc']):g}"
    return (f["made"], f["tried"], f["share"]) == (str(made), str(len(rows)), said_number(100 * made / len(rows))) and (
        f.get("aim", aim) == aim and f.get("target", target) == target
    )


def _muscle_id(t: Tables, language: str, name: str) -> str:
    words = catalogue(language)["word"]
    return next(
        str(one["id"])
        for one in t.order["muscles"]
        if name == f"{one['name']}, {words[one['side']]} ({words[one['role']]})"
    )


def _early(t: Tables, language: str, f: dict[str, str], _: date) -> bool:
    return int(f["n"]) == len(t.maxima(_muscle_id(t, language, f["muscle"]))) < int(f["first"])


def _once(t: Tables, language: str, f: dict[str, str], _: date) -> bool:
    values = t.maxima(_muscle_id(t, language, f["muscle"]))
    return len(values) == 1 or len({sensor for _, _, sensor in values}) == len(values)


def _changed(sign: int) -> Any:
    def verify(t: Tables, language: str, f: dict[str, str], _: date) -> bool:
        muscle = _muscle_id(t, language, f["muscle"])
        days = len(t.maxima(muscle)) // 3 * 3  # looked at after every third day
        percent, balance = t.change(muscle, days)
        low, high = numbers(f["low"])[0], numbers(f["high"])[0]
        told = abs(numbers(f["percent"])[0] - percent) <= 0.51 and low <= percent + 0.51 and percent <= high + 0.51
        if sign == 0:
            return told and low <= 0 <= high
        return (
            told
            and balance * sign > 0
            and any(said_day(at.date(), language) == f["since"] for at, _, _ in t.maxima(muscle)[2::3])
        )

    return verify


def always(*_: Any) -> bool:
    return True


def _nothing(t: Tables, language: str, f: dict[str, str], _: date) -> bool:
    return not t.reps


CHECKS: dict[str, Any] = {
    "done.nothing": _nothing,
    "done.share": _share,
    "done.left_out.one": _missed,
    "done.left_out.many": _missed,
    "done.all_whole": lambda t, *_: _missed_days(t) == 0,
    "pain.unasked": lambda t, *_: not any(t.pains(key) for key in t.real),
    "pain.highest": _highest,
    "pain.none": lambda t, *_: not any(max(t.pains(key), default=0) for key in t.real),
    "pain.ended.one": _ended,
    "pain.ended.many": _ended,
    "pain.after.one": partial(_ended, after=True),
    "pain.after.many": partial(_ended, after=True),
    "pain.ended_none": lambda t, lang, f, on: (
        not _ended_by_pain(t, after=False) and int(f["level"]) == t.order["stop"]["pain_stop"]
    ),
    "pain.eased.one": _eased,
    "pain.eased.many": _eased,
    "effort.sentence": _effort,
    "effort.sentence_unscaled": _effort,
    "muscle.nothing": lambda t, *_: not t.real or not t.calibrations,
    "muscle.once": _once,
    "muscle.too_early": _early,
    "muscle.open": _changed(0),
    "muscle.risen": _changed(1),
    "muscle.fallen": _changed(-1),
    "patient.nothing": _nothing,
    "patient.pain": lambda t, lang, f, on: int(f["value"]) == max(max(t.pains(k), default=0) for k in t.real),
    "patient.no_pain": lambda t, lang, f, on: int(f["value"]) == max(max(t.pains(k), default=0) for k in t.real),
    "patient.left_out.one": _missed,
    "patient.left_out.many": _missed,
    "patient.all_done": lambda t, *_: _missed_days(t) == 0,
    "patient.review": lambda t, lang, f, on: (
        t.order["review"] >= on and f["review"] == said_day(t.order["review"], lang)
    ),
    "patient.review_passed": lambda t, lang, f, on: t.order["review"] < on,
    "consider.review": lambda t, lang, f, on: t.order["review"] < on,
    "consider.share": lambda t, lang, f, on: t.share()["share"] < float(f["limit"]),
    "consider.pain": lambda t, *_: bool(_ended_by_pain(t, after=False)),
    "consider.pain_after": lambda t, *_: bool(_ended_by_pain(t, after=True)),
    "consider.eased": lambda t, *_: any(
        max(t.pains(key), default=0) >= t.order["stop"]["pain_lighten"] for key in t.real
    ),
    "consider.pads": lambda t, *_: bool(t.calibrations),
    "consider.pads_same": lambda t, *_: bool(t.calibrations),
    "consider.hard": lambda t, lang, f, on: float(f["share"]) < 60.5,
    "consider.bound": lambda t, lang, f, on: float(f["share"]) >= 89.5,
    "consider.on": always,
    "patient.go_on": always,
    "patient.pads": always,
    "patient.bring": always,
    "patient.too_early": always,
    "patient.same": always,
    "patient.stronger": lambda t, *_: t.change(t.order["muscles"][0]["id"], 999)[1] > 0,
    "patient.weaker": lambda t, *_: t.change(t.order["muscles"][0]["id"], 999)[1] < 0,
}


def first_pages(number: int, language: str) -> tuple[Tables, list[str], date]:
    ledger, orders = a_history(number)
    last = max((one.started for one in ledger.sessions), default=datetime(2026, 3, 20, 9, tzinfo=ZoneInfo("UTC")))
    created = last + timedelta(hours=4)
    content = pack(ledger, orders[-1], None, created.astimezone(ZoneInfo("UTC")), orders[:-1])
    handover = read_handover(content)
    made_at = created + timedelta(days=(0, 5, 90)[number % 3])
    past = past_of(handover.ledger, handover.prescription, handover.earlier_orders, made_at, created, False)
    words = Words(language)
    page = patient_page(past, words)
    said = [sentence for answer in answers(past, words) for sentence in answer.sentences]
    told = [*said, *considerations(past, words), *page.sentences, *page.next_steps]
    return tables_of(content), told, past.today


@pytest.mark.parametrize("language", ["en", "de"])
@pytest.mark.parametrize("number", range(HISTORIES))
def test_every_sentence_is_true(number: int, language: str) -> None:
    tables, said, made_on = first_pages(number, language)
    sides = [
        one
        for one in said
        if " % der anderen" in one.replace("\u00a0", " ") or "% of the other" in one.replace("\u00a0", " ")
    ]
    for sentence in sides:
        index, low, high = (numbers(sentence)[place] for place in (0, 2, 3))
        assert low <= index <= high
    check(tables, language, [one for one in said if one not in sides], made_on)


@pytest.mark.parametrize(
    ("number", "old", "new"), [(0, r"\d+(?=\u00a0% of the order)", "99"), (7, r"at most \d+", "at most 10")]
)
def test_a_planted_untruth_is_caught(number: int, old: str, new: str) -> None:
    tables, said, made_on = first_pages(number, "en")
    wrong = [re.sub(old, new, sentence, count=1) for sentence in said]
    assert wrong != said
    with pytest.raises(AssertionError):
        check(tables, "en", [one for one in wrong if "of the other" not in one], made_on)
