"""The figures behind the first page, computed again from the tables alone: answers, fatigue, overlap, steadiness,
moves."""

from __future__ import annotations

import re
import statistics
from collections import defaultdict
from html import unescape
from typing import Any

import pytest
from invented_histories import a_history
from musclewood.profiles.handover.package import pack
from musclewood.profiles.report.page import render_report
from table_reader import Tables, said_number, tables_of

BOTH, PAUSED, POOR = 9, 11, 21  # two muscles; sets that tired; sets with a poor signal


def told(number: int, language: str) -> tuple[Tables, str]:
    """The tables of one history's hand-over, and all that its report says."""
    ledger, orders = a_history(number)
    made = ledger.sessions[-1].started
    content = pack(ledger, orders[-1], None, made, orders[:-1])
    html = render_report(ledger, orders[-1], revisions=orders[:-1], now=made, until=made, language=language)
    text = re.sub(r"<(style|svg).*?</\1>", " ", html, flags=re.DOTALL)
    return tables_of(content), " ".join(unescape(re.sub(r"<[^>]+>", " ", text)).replace("\u00a0", " ").split())


def decimal(value: float, language: str) -> str:
    return f"{value:.1f}".replace(".", "," if language == "de" else ".")


def by_session(t: Tables, exercise: str, column: str) -> list[float]:
    """The mean of each session's sets."""
    found: dict[str, list[float]] = defaultdict(list)
    for row in t.sets:
        if row["exercise_id"] == exercise and row[column] and row["session"] in t.real:
            found[row["session"]].append(float(row[column]))
    return [statistics.fmean(values) for values in found.values()]


WORDS: dict[str, dict[str, Any]] = {
    "en": {
        "answers": "{what}: {n} answers, from {low} to {high}, {mean} on average.",
        "pain": "Pain", "effort": "Effort felt", "tiredness": "Tiredness", "ease": "Ease",
        "fatigue": "{title}: the signal slowed by {latest} % within a set lately, at most {highest} % in a "
            "session; {cut}.",
        "cut": "{n} sets were cut short for it", "uncut": "no set was cut short for it",
        "overlap": "{title}: the muscles overlapped by {latest} % of their activity lately",
        "made": "{made} of {tried} attempts counted; {minutes} minutes in the band. Steadiness {steadiness} %.",
        "moves": "{title}: moved {n} times, target from {first} to {last} %MVC.",
        "poor": "The signal was poor in {poor} of {n} sets", "good": "The signal was good enough in all {n} sets.",
    },
    "de": {
        "answers": "{what}: {n} Antworten, von {low} bis {high}, im Mittel {mean}.",
        "pain": "Schmerz", "effort": "Empfundene Anstrengung", "tiredness": "Müdigkeit", "ease": "Leichtigkeit",
        "fatigue": "{title}: Das Signal wurde zuletzt innerhalb eines Satzes um {latest} % langsamer, in "
            "einer Sitzung um höchstens {highest} %; {cut}.",
        "cut": "{n} Sätze endeten deshalb früher", "uncut": "kein Satz endete deshalb früher",
        "overlap": "{title}: Die Muskeln überlappten sich zuletzt in {latest} % ihrer Aktivität",
        "made": "{made} von {tried} Versuchen zählten; {minutes} Minuten im Band. Stetigkeit {steadiness} %.",
        "moves": "{title}: {n}-mal verändert, Zielwert von {first} auf {last} %MVC.",
        "poor": "Das Signal war in {poor} von {n} Sätzen "
            "schlecht", "good": "Das Signal war in allen {n} Sätzen gut genug.",
    },
}  # fmt: skip


@pytest.mark.parametrize(("number", "language"), [(BOTH, "en"), (BOTH, "de"), (PAUSED, "de"), (POOR, "en")])
def test_every_figure_is_that_of_the_tables(number: int, language: str) -> None:
    t, text = told(number, language)
    say = WORDS[language]
    for what in ("pain", "effort", "tiredness", "ease"):
        values = [int(row["value"]) for row in t.ratings if row["what"] == what and row["session"] in t.real]
        mean = decimal(statistics.fmean(values), language)
        figures = {"n": len(values), "low": min(values), "high": max(values), "mean": mean}
        assert say["answers"].format(what=say[what], **figures) in text
    for exercise in t.order["exercises"]:
        title, key = exercise["title"], exercise["id"]
        declines = by_session(t, key, "median_frequency_decline_pct")
        latest, highest = said_number(statistics.fmean(declines[-3:])), said_number(max(declines))
        tired = sum(
            row["exercise_id"] == key and row["cut_short"] == "tired" for row in t.sets if row["session"] in t.real
        )
        cut = say["cut"].format(n=tired) if tired else say["uncut"]
        assert say["fatigue"].format(title=title, latest=latest, highest=highest, cut=cut) in text
        if overlaps := by_session(t, key, "cocontraction_pct"):
            assert say["overlap"].format(title=title, latest=said_number(statistics.fmean(overlaps[-3:]))) in text
        rows = [row for row in t.reps if row["exercise_id"] == key]
        made = [row for row in rows if row["verdict"] == "counted"]
        figures = {
            "made": len(made), "tried": len(rows),
            "minutes": decimal(sum(float(row["in_band_s"]) for row in made) / 60, language),
            "steadiness": said_number(100 * statistics.fmean(float(row["steadiness"]) for row in made)),
        }  # fmt: skip
        assert say["made"].format(**figures) in text
    moved = [row for row in t.scaling if row["session"] in t.real]
    ends = {
        "first": f"{float(moved[0]['target_from_pct_mvc']):g}",
        "last": f"{float(moved[-1]['target_to_pct_mvc']):g}",
    }
    ends = {name: value.replace(".", "," if language == "de" else ".") for name, value in ends.items()}
    assert say["moves"].format(title=t.order["exercises"][0]["title"], n=len(moved), **ends) in text
    judged = [row["quality"] for row in t.sets if row["session"] in t.real and row["quality"]]
    poor = judged.count("poor")
    assert say["poor" if poor else "good"].format(poor=poor, n=len(judged)) in text
    assert bool(poor) is (number == POOR)
