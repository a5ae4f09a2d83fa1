"""The report as a browser shows and prints it: silent, alone, true to the tables, and with nothing cut off."""

from __future__ import annotations

import csv
import io
import re
import shutil
import subprocess
import tomllib
import zipfile
from collections import Counter, defaultdict
from collections.abc import Callable
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from musclewood.profiles.handover.package import pack
from musclewood.profiles.journal.ledger import Ledger, LedgerSession
from musclewood.profiles.journal.records import (
    CalibrationRecord,
    InterruptionRecord,
    RatingRecord,
    Record,
    RepRecord,
    ScalingRecord,
    SessionEnd,
    SessionStart,
    SetRecord,
    Verdict,
)
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import DAYS
from musclewood.profiles.orders.templates import template
from musclewood.profiles.report.page import render_report

CHROMIUM = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))), None
)
START = datetime.fromisoformat("2026-11-26T17:00:00+01:00")
NOW = datetime.fromisoformat("2026-12-12T20:00:00+01:00")
MOST_PAGES = 4  # our choice: what is looked at in a visit
MARGIN_POINTS = 14 / 25.4 * 72

pytestmark = pytest.mark.skipif(CHROMIUM is None, reason="no Chromium on this computer to open the report with")


def browse(page: Path, *options: str) -> tuple[str, str]:
    """What Chromium prints, and what it complains about."""
    assert CHROMIUM is not None
    command = [
        CHROMIUM, "--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--disable-extensions",
        "--disable-background-networking", "--disable-component-update", "--no-first-run", "--enable-logging=stderr",
        "--host-resolver-rules=MAP * ~NOTFOUND", f"--user-data-dir={page.parent / 'browser'}", *options, page.as_uri(),
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, timeout=120, check=True)
    return done.stdout.decode("utf-8"), done.stderr.decode("utf-8", "replace")


def an_attempt(exercise: Any, number: int, day: int) -> RepRecord:
    verdicts: tuple[Verdict, ...] = ("counted", "counted", "counted", "weak", "counted", "short", "over")
    effort = exercise.effort
    return RepRecord(
        exercise.id, exercise.kind, exercise.workshops[0], 1, number, verdicts[(number + day) % 7], 10.0 * number,
        10.0 * number + 5, 5.0, 4.5 + number / 64, effort.target_pct_mvc + number % 5, 41.0, 0.93, 90.0,
        effort.target_pct_mvc, effort.tolerance_pct_mvc,
    )  # fmt: skip


def a_session(order: Prescription, number: int, day: int) -> LedgerSession:
    """With long words in every table that prints, on the first day."""
    started = START + timedelta(days=day)
    records: list[Record] = [RatingRecord(1.0, "pain", 1, "before"), RatingRecord(600.0, "pain", 2 + day % 3, "after")]
    records.append(CalibrationRecord("vastus-medialis", 0, 30.0, 3.1, 160.0 + 9 * day, 0.03, (150.0, 160.0), 160.0))
    for exercise in order.exercises:
        records += [an_attempt(exercise, rep, day) for rep in range(1, exercise.sets * exercise.reps - day % 3)]
        records.append(SetRecord(exercise.id, 1, 10, 10 - day % 2, 12, 0.0, 99.0, None, 9.0 + day, None, 0.98, "good"))
    if day == 0:
        reason = "Predicted success 0.84 at the target of 80 %, three sessions without pain of 3 or more"
        records.append(ScalingRecord("thigh-hold", 35.0, 37.5, 8.0, 7.5, 6.0, 6.0, 0.84, "A little more.", reason))
        loose = "the electrode over the vastus medialis came loose while kneeling"
        records.append(InterruptionRecord(312.0, 41.0, "contact lost", loose))
    start = SessionStart(order.patient, 1, "simulated" if day == 10 else "ble", started.isoformat(), "Europe/Prague")
    return LedgerSession(
        number, start, SessionEnd((started + timedelta(minutes=14)).isoformat(), "complete"), tuple(records)
    )


@pytest.fixture(scope="module")
def knee() -> Prescription:
    return template("weak-thigh-after-knee-operation")


@pytest.fixture(scope="module")
def three_weeks(knee: Prescription) -> Ledger:
    """Sessions on most days, one of them practice."""
    days = (0, 1, 2, 4, 5, 8, 9, 10, 12, 14, 15)
    return Ledger(tuple(a_session(knee, number, day) for number, day in enumerate(days, start=1)), "0" * 64)


@pytest.fixture(scope="module")
def page(three_weeks: Ledger, knee: Prescription, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("report") / "report.html"
    path.write_text(render_report(three_weeks, knee, now=NOW), encoding="utf-8")
    return path


def tables_of(ledger: Ledger, knee: Prescription) -> dict[str, list[dict[str, str]]]:
    """The hand-over's CSVs, read by nothing of ours."""
    with zipfile.ZipFile(io.BytesIO(pack(ledger, knee, None, NOW))) as archive:
        text = {name: archive.read(name).decode() for name in archive.namelist()}
    return {
        name.removesuffix(".csv"): list(csv.DictReader(io.StringIO(content, newline="")))
        for name, content in text.items()
        if name.endswith(".csv")
    } | {"order": [tomllib.loads(text["prescription.toml"])]}


def computed(ledger: Ledger, knee: Prescription) -> tuple[dict[str, float], dict[str, list[int]]]:
    """The report's main figures and its weeks (counted, ordered), from the CSVs alone."""
    tables = tables_of(ledger, knee)
    order: Any = tables["order"][0]
    zone = ZoneInfo(order["timezone"])
    real = [row for row in tables["sessions"] if row["practice"] == "false"]
    day_of = {row["session"]: datetime.fromisoformat(row["started_at"]).astimezone(zone).date() for row in real}
    ordered = {one["id"]: one["sets"] * one["reps"] for one in order["exercises"]}
    whole = sum(ordered.values())
    # Today is not over and nothing was done on it yet, so it is not known.
    days = [order["issued"] + timedelta(days=n) for n in range((NOW.date() - order["issued"]).days)]
    due = [day for day in days if DAYS[day.weekday()] in order["days"]]
    counted = [row for row in tables["repetitions"] if row["session"] in day_of and row["verdict"] == "counted"]
    made: dict[str, Counter[str]] = defaultdict(Counter)
    for row in counted:
        made[row["session"]][row["exercise_id"]] += 1
    kept = {session: sum(min(n, ordered[key]) for key, n in count.items()) for session, count in made.items()}
    capped = sum(min(number, whole) for session, number in kept.items() if day_of[session] in due)
    figures = {
        "reps_capped_pct": 100 * capped / (whole * len(due)),
        "reps_uncapped_pct": 100 * len(counted) / (whole * len(due)),
        "sessions_pct": 100 * sum(kept[s] >= 0.8 * whole for s in kept if day_of[s] in due) / len(due),
        "sets_pct": 100
        * sum(int(r["reps_counted"]) >= int(r["reps_ordered"]) for r in tables["sets"] if r["session"] in day_of)
        / (len(due) * sum(one["sets"] for one in order["exercises"])),
        "in_band_pct": 100
        * sum(float(row["in_band_s"]) for row in counted)
        / (len(due) * sum(one["sets"] * one["reps"] * one["hold_s"] for one in order["exercises"])),
    }
    weeks: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    monday: Callable[[date], str] = lambda day: (day - timedelta(days=day.weekday())).isoformat()
    for row in counted:
        weeks[monday(day_of[row["session"]])][0] += 1
    for day in due:
        weeks[monday(day)][1] += whole
    return figures, dict(weeks)


MEASURE = """<script>
window.onerror = (message) => { document.body.dataset.failed = message; };
for (const one of document.querySelectorAll('details')) one.open = true;
for (const paper of [182, 188]) {
  document.body.style.width = document.body.style.maxWidth = paper + 'mm';
  const wide = [...document.querySelectorAll('table, figure, ul, dl, p')].filter(
    (one) => one.scrollWidth > one.clientWidth + 1 ||
    one.getBoundingClientRect().right > document.body.getBoundingClientRect().right + 1);
  document.body.setAttribute('data-wide-' + paper, wide.length);
}
document.body.dataset.fonts = [...document.fonts].length;
</script>"""


def test_it_opens_without_a_word_and_its_figures_are_those_of_the_tables(
    page: Path, three_weeks: Ledger, knee: Prescription
) -> None:
    html = page.read_text("utf-8")
    # The page forbids itself to fetch anything; here it may only run the script that measures it.
    assert html.count("default-src 'none'; style-src") == 1 and "<script" not in html
    measured = page.with_name("measured.html")
    allowed = html.replace("default-src 'none';", "default-src 'none'; script-src 'unsafe-inline';")
    measured.write_text(allowed.replace("</body>", f"{MEASURE}</body>"), encoding="utf-8")
    dom, complaints = browse(measured, "--dump-dom")
    # Every request that the page's own policy refuses, and every error of a script, is a line of the console.
    assert "CONSOLE" not in complaints, complaints
    figures, weeks = computed(three_weeks, knee)
    shown = {name: float(value) for name, value in re.findall(r'data-figure="(\w+)" data-value="([\d.]+)"', dom)}
    assert shown == pytest.approx(figures)
    for name, words in re.findall(r'data-figure="(\w+)"[^>]*>([^<]*?)\s*%', dom):
        assert int(words) == round(figures[name]), "what is read is what was computed"
    rows = re.findall(r'data-week="([\d-]+)">.*?<td class="n">\d+ of \d+</td><td class="n">(\d+) of (\d+)</td>', dom)
    assert {monday: [int(made), int(of)] for monday, made, of in rows} == weeks
    # At the widths of A4 and Letter nothing is wider than its place.
    assert "data-failed" not in dom
    assert 'data-wide-182="0"' in dom and 'data-wide-188="0"' in dom and 'data-fonts="2"' in dom


@pytest.mark.full_size
@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="no pdftotext to look into the printed report with")
def test_it_prints_with_no_table_cut_off(page: Path, full: bool) -> None:
    html = page.read_text("utf-8")
    # What is only for the screen: single moves, how figures are computed, older rows.
    printed_html = re.sub(r'<details class="screen">.*?</details>', "", html, flags=re.DOTALL)
    printed_html = re.sub(r'<(tr|table)[^>]* class="screen">.*?</\1>', "", printed_html, flags=re.DOTALL)
    cells = [re.sub(r"<[^>]+>", "", cell) for cell in re.findall(r"<td[^>]*>(.*?)</td>", printed_html, re.DOTALL)]
    assert len(cells) > 40
    for paper, width in (("A4", 595.3), ("Letter", 612.0))[: 2 if full else 1]:
        sheet = page.with_name(f"{paper}.html")
        sheet.write_text(html.replace("@page { margin", f"@page {{ size: {paper}; margin"), encoding="utf-8")
        printed = page.with_suffix(f".{paper}.pdf")
        browse(sheet, f"--print-to-pdf={printed}", "--no-pdf-header-footer")
        boxes = subprocess.run(["pdftotext", "-bbox", printed, "-"], capture_output=True, check=True).stdout.decode()
        assert boxes.count("<page ") <= MOST_PAGES
        first = re.findall(r">([^<]+)</word>", boxes.partition("</page>")[0])
        assert {"it?", "hurt?", "back?", "consider", "note", "device."} <= {*first}, "the first page answers alone"
        assert all(abs(float(found) - width) < 1 for found in re.findall(r'<page width="([\d.]+)"', boxes))
        edges = [(float(x), word) for x, word in re.findall(r'xMax="([\d.]+)" yMax="[\d.]+">(.*?)</word>', boxes)]
        assert [word for x, word in edges if x > width - MARGIN_POINTS + 2] == []
        words = Counter(word for _, word in edges)
        wanted = Counter(word for cell in cells for word in cell.split())
        assert {word: number for word, number in wanted.items() if words[word] < number} == {}
