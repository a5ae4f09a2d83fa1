"""Thirty invented histories: every sentence of the first page and of the patient's page is true by the tables alone."""

from __future__ import annotations

import itertools
import math
import re
from datetime import date, datetime, timedelta
from functools import cache, partial
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from invented_histories import HISTORIES, a_history
from musclewood.profiles.handover.package import pack
from musclewood.profiles.handover.reading import read_handover
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.report.opening import answers, considerations
from musclewood.profiles.report.past import past_of
from musclewood.profiles.report.patient import patient_page
from musclewood.profiles.report.words import Words, catalogue
from table_reader import Tables, numbers, said_day, said_number, tables_of


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


def _none_ordered(t: Tables, language: str, f: dict[str, str], _: date) -> bool:
    seen = t.share()
    days = catalogue(language)["done"]["days"]["one" if seen["tried"] == 1 else "many"].format(n=seen["tried"])
    return seen["ordered"] == 0 and f"{f['period']} {f['made']}".split()[-1] == str(seen["made"]) and f["days"] == days


def _exercise(t: Tables, title: str) -> dict[str, Any]:
    return next(one for one in t.order["exercises"] if one["title"] == title)


def _not_done(t: Tables, language: str, f: dict[str, str], _: date) -> bool:
    return all(row["exercise_id"] != _exercise(t, f["exercise"])["id"] for row in t.reps)


def _latest(t: Tables, language: str, f: dict[str, str], _: date, easy: bool) -> bool:
    """The latest thirty attempts of an exercise: too few counted, or nearly all of them at the bound."""
    exercise = _exercise(t, f["exercise"])
    rows = [row for row in t.reps if row["exercise_id"] == exercise["id"]][-30:]
    share = 100 * sum(row["verdict"] == "counted" for row in rows) / len(rows)
    told = (f["n"], f["share"]) == (str(len(rows)), said_number(share)) and len(rows) == 30
    at_bound = float(rows[-1]["target_pct_mvc"]) >= exercise["effort"]["max_pct_mvc"]
    return told and (share >= 90 and at_bound if easy else share < 60)


def _recent_sets(t: Tables) -> list[dict[str, str]]:
    first = t.share()["first"]
    return [row for row in t.sets if row["session"] in t.real and t.day[row["session"]] >= first]


def _tired(t: Tables, language: str, f: dict[str, str], _: date) -> bool:
    exercise = _exercise(t, f["exercise"])["id"]
    tired = sum(row["exercise_id"] == exercise and row["cut_short"] == "tired" for row in _recent_sets(t))
    return int(f["n"]) == tired >= 3


def _signal(t: Tables, language: str, f: dict[str, str], _: date) -> bool:
    judged = [row["quality"] for row in _recent_sets(t) if row["quality"]]
    share = 100 * judged.count("poor") / len(judged)
    return f["share"] == said_number(share) and share >= 10


def _pads(t: Tables, language: str, f: dict[str, str], _: date) -> bool:
    """The scatter that is believed lies near that of neighbouring days' differences."""
    found = t.maxima(_muscle_id(t, language, f["muscle"]))
    values = [value for _, value, sensor in found if sensor == found[-1][2]]
    if len(values) < 3:
        return False
    steps = [math.log(later / one) for one, later in itertools.pairwise(values)]
    seen = 100 * math.sqrt(sum(step * step for step in steps) / len(steps) / 2)
    return float(f["scatter"]) + 0.5 >= 15 and 0.5 * seen <= float(f["scatter"]) <= 2 * seen + 10


def _ended_order(t: Tables, language: str, f: dict[str, str], on: date) -> bool:
    expires = t.order.get("expires")
    return (
        expires is not None
        and expires < on
        and f.get("day", said_day(expires, language)) == said_day(expires, language)
    )


def _stands_out(t: Tables) -> bool:
    share = t.share()["share"]
    return share is not None and share < 70


def _sides(t: Tables, language: str, sentence: str) -> bool:
    """The involved side beside the other, and which way the ranks of the days' distances from 90 % lean."""
    involved, other = (one["id"] for one in t.order["muscles"])
    ratios = [100 * one / two for (_, one, _), (_, two, _) in zip(t.maxima(involved), t.maxima(other), strict=True)]
    index, low, high = (numbers(sentence)[place] for place in (0, 2, 3))
    lean, distances = 0, [math.log(ratio / 90) for ratio in ratios]
    for number, distance in enumerate(distances, start=1):
        rank = sum(abs(one) <= abs(distance) for one in distances[:number])
        lean += rank if distance > 0 else -rank
    words = catalogue(language)["muscle"]
    since = {said_day(at.date(), language) for at, _, _ in t.maxima(involved)[2::3]}
    settled = {
        key: re.compile(
            re.escape(words[f"sides_{key}"].replace(" %", "\u00a0%"))
            .replace(r"\{criterion\}", "90")
            .replace(r"\{since\}", "(.+)")
        )
        for key in ("above", "below", "open")
    }  # fmt: skip
    (key, found) = next((key, found) for key, one in settled.items() if (found := one.search(sentence)))
    told = {"open": True, "above": lean > 0, "below": lean < 0}[key] and (key == "open" or found[1] in since)
    return told and low <= index <= high and min(ratios) - 0.5 <= index <= max(ratios) + 0.5


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
    "effort.not_done": _not_done,
    "done.none_ordered": _none_ordered,
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
    "consider.pads": _pads,
    "consider.pads_same": lambda t, *_: bool(t.calibrations),
    "consider.hard": partial(_latest, easy=False),
    "consider.bound": partial(_latest, easy=True),
    "consider.tired": _tired,
    "consider.signal": _signal,
    "consider.ended": _ended_order,
    "consider.on": lambda t, *_: not _stands_out(t) and all(row["ending"] == "complete" for row in t.real.values()),
    "patient.ended": _ended_order,
    "patient.go_on": lambda t, lang, f, on: not _ended_order(t, lang, f, on),
    "patient.pads": always,
    "patient.bring": always,
    "patient.too_early": always,
    "patient.same": always,
    "patient.stronger": lambda t, *_: t.change(t.order["muscles"][0]["id"], 999)[1] > 0,
    "patient.weaker": lambda t, *_: t.change(t.order["muscles"][0]["id"], 999)[1] < 0,
}


@cache
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
    assert all(_sides(tables, language, sentence) for sentence in sides), sides
    check(tables, language, [one for one in said if one not in sides], made_on)


def test_every_sentence_of_the_first_page_is_said_in_one_of_them() -> None:
    """And is one that somebody checks; what is only part of a sentence, or a heading, is not."""
    parts = {"title", "from_start", "four_weeks", "days", "at_level", "by_rise", "by_word", "level", "yours", "next",
        "caution",
             "made", "day", "seconds", "minutes", "cautions", "sides_open", "sides_above", "sides_below",
             "sides_caution", "level_few",
             "sides"}  # fmt: skip
    wanted = {
        f"{table}.{key}{ending}"
        for table in ("done", "pain", "effort", "muscle", "consider", "patient")
        for key, text in catalogue("en")[table].items()
        if key not in parts
        for ending in ([f".{one}" for one in text] if isinstance(text, dict) else [""])
    }
    assert sorted(wanted - CHECKS.keys()) == []
    told = [sentence for number in range(HISTORIES) for sentence in first_pages(number, "en")[1]]
    assert [key for key in sorted(wanted) if not any(pattern("en", key).match(one) for one in told)] == []


@pytest.mark.parametrize(
    ("number", "old", "new"), [(0, r"\d+(?=\u00a0% of the order)", "99"), (7, r"at most \d+", "at most 10")]
)
def test_a_planted_untruth_is_caught(number: int, old: str, new: str) -> None:
    tables, said, made_on = first_pages(number, "en")
    wrong = [re.sub(old, new, sentence, count=1) for sentence in said]
    assert wrong != said
    with pytest.raises(AssertionError):
        check(tables, "en", [one for one in wrong if "of the other" not in one], made_on)
