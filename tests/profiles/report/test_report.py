"""The report: complete, self-contained, and honest about what is chance and what is demonstration."""

from __future__ import annotations

import math
import re
import tomllib
import typing
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from musclewood.profiles.caseload.summary import facts_of
from musclewood.profiles.journal.history import zone_of
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.ledger import Ledger, read_ledger
from musclewood.profiles.journal.records import (
    ENDED_BY_ITSELF,
    PASSED_OVER,
    InterruptionRecord,
    RepRecord,
    ScalingRecord,
    SetRecord,
)
from musclewood.profiles.journal.remarks import JournalRemark, written
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.templates import template
from musclewood.profiles.plan.adherence import adherence
from musclewood.profiles.report import figures as report_figures
from musclewood.profiles.report.days import weeks
from musclewood.profiles.report.opening import sides_sentence
from musclewood.profiles.report.page import render_report
from musclewood.profiles.report.sides import compare
from musclewood.profiles.report.words import LANGUAGES, Words, catalogue
from musclewood.signal.quality.quality import FaultName

Play = Callable[..., int]
START = datetime.fromisoformat("2026-11-26T17:00:00+01:00")
NOW = datetime(2026, 12, 2, 18, tzinfo=UTC)
FAULTS = typing.get_args(FaultName)
REASONS = ("patient", "sensor", "pain", "contact", "contact lost", "patient", "sensor")


class Page(HTMLParser):
    """Collects what a reader sees and checks that every tag is closed in order."""

    VOID = frozenset({"meta", "br", "path", "img", "link", "hr", "use", "stop"})

    def __init__(self, html: str) -> None:
        super().__init__()
        self.words: list[str] = []
        self.open: list[str] = []
        self.links: list[str] = []
        self.ids: list[str] = []
        self.feed(html)
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in self.VOID:
            self.open.append(tag)
        for name, value in attrs:
            if name in ("src", "href", "xlink:href") and value:
                self.links.append(value)
            if name == "id" and value:
                self.ids.append(value)

    def handle_endtag(self, tag: str) -> None:
        if tag not in self.VOID:
            assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open and data.strip():
            self.words.append(" ".join(data.split()))

    @property
    def text(self) -> str:
        return " ".join(self.words)


@pytest.fixture
def ledger(journal_path: Path, play: Play, rep: Any) -> Ledger:
    with Journal.open(journal_path) as journal:
        for day, mvc in ((0, 150.0), (1, 155.0), (2, 149.0)):
            reps = [rep(number) for number in range(1, 18)] + [rep(18, "weak", mean_pct_mvc=21.0), rep(19, "over")]
            play(journal, START + timedelta(days=day), reps=reps, pain=(1, 3), mvc_uv=mvc)
        play(journal, START + timedelta(days=4), source="keyboard", mvc_uv=900.0, pain=(9,))
        return read_ledger(journal)


def test_it_says_what_was_done_first(ledger: Ledger, knee: Prescription) -> None:
    page = Page(render_report(ledger, knee, now=NOW))
    assert (
        "23 % of the order was done in the days since 25 November 2026: 51 of 220 ordered repetitions, "
        "on 3 of 5 planned days." in page.text
    )
    assert "measured on 3 days. Whether it changes is not known yet" in page.text
    assert "Pain was at most 3 of 10" in page.text and "the stop level is 5 of 10" in page.text
    assert "89 % (aimed at: 80 %)" in page.text
    assert page.text.index("51 of 220") < page.text.index("Ordered and done")


def test_every_section_and_every_caution_is_there(ledger: Ledger, knee: Prescription) -> None:
    text = Page(render_report(ledger, knee, now=NOW)).text
    for heading in (
        "Ordered and done",
        "Effort, repetition by repetition",
        "Recent maximum",
        "Pain and effort as answered",
        "What the program changed",
        "week by week",
        "What to consider next",
        "Signal and interruptions",
        "For you",
        "How the figures are computed",
    ):
        assert heading in text
    for words in (
        "not a medical device",
        "Follow your therapist",
        "local rules and licensed practice decide",
        "Stop on pain, dizziness, chest pain or a skin reaction",
        "implanted device, in pregnancy or after recent surgery",
        "broken, irritated or infected skin",
        "Breathe on during strong holds",
        "never while it charges",
    ):
        assert words in text


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_patient_is_told_of_every_caution(language: str, ledger: Ledger, knee: Prescription) -> None:
    """Their own page may be all that is printed: it leaves out nothing of what the program says before the first
    session."""
    text = Page(render_report(ledger, knee, now=NOW, language=language)).text
    own = text[text.index(catalogue(language)["patient"]["caution"]) :].lower()
    english = (
        "pain,dizziness,chest pain,skin,pacemaker,pregnant,surgery,infected,adhesive,breathe,charges,not a medical"
    )
    german = (
        "schmerz,schwindel,brustschmerz,haut,schrittmacher,schwanger,operiert,entzündete,kleb,atmen,lädt,medizinprodukt"
    )
    for word in {"en": english, "de": german}[language].split(","):
        assert word in own, word


def test_it_holds_everything_it_needs(ledger: Ledger, knee: Prescription) -> None:
    html = render_report(ledger, knee, now=NOW)
    page = Page(html)
    assert all(link.startswith("#") for link in page.links)
    assert "<script" not in html and "@import" not in html
    assert all(target.startswith(("data:", "#")) for target in re.findall(r"url\(([^)]*)\)", html))
    assert len(set(page.ids)) == len(page.ids)
    assert {link[1:] for link in page.links} <= set(page.ids)
    assert html.count('role="img"') >= 4


def test_practice_never_counts(ledger: Ledger, knee: Prescription) -> None:
    text = Page(render_report(ledger, knee, now=NOW)).text
    assert "1 practice session without a muscle" in text
    assert "at most 3 of 10" in text and "Demonstration" not in text


def test_a_demonstration_says_so_and_shows_practice(ledger: Ledger, knee: Prescription) -> None:
    text = Page(render_report(ledger, knee, demonstration=True, now=NOW)).text
    assert "Demonstration." in text and "simulated" in text and "as if it were dose" in text
    assert "55 of 220" in text and "Pain was at most 9 of 10" in text


def test_nothing_done_yet_is_a_report_too(knee: Prescription) -> None:
    text = Page(render_report(Ledger(()), knee, now=NOW)).text
    assert "Nothing has been done yet that counts." in text and "No maximum has been measured yet." in text


def test_the_same_past_gives_the_same_page(ledger: Ledger, knee: Prescription) -> None:
    assert render_report(ledger, knee, now=NOW) == render_report(ledger, knee, now=NOW)


def test_words_from_outside_stay_words(ledger: Ledger, knee: Prescription) -> None:
    sharp = knee.model_copy(update={"clinic": "<script>alert(1)</script> & Co"})
    exercise = knee.exercises[0].model_copy(update={"title": 'Hold "it" <b>& smile</b>'})
    sharp = sharp.model_copy(update={"exercises": (exercise,)})
    html = render_report(ledger, sharp, now=NOW)
    assert "<script" not in html and "<b>& smile" not in html
    assert 'Hold "it" <b>& smile</b>' in Page(html).text


def test_a_damaged_journal_is_worth_checking(ledger: Ledger, knee: Prescription) -> None:
    doubtful = Ledger(ledger.sessions, ledger.journal_hash, ("session 2: it was changed after it was closed",))
    text = Page(render_report(doubtful, knee, now=NOW)).text
    assert "Worth checking" in text and "Session 2 was changed after it was closed." in text


def test_every_missed_day_has_its_reason(journal_path: Path, play: Play, rep: Any, knee: Prescription) -> None:
    # Thursday whole; Friday stopped by pain; Saturday nothing; Sunday rest; Monday practice alone; Tuesday today.
    whole = [rep(n, exercise_id=one.id) for one in knee.exercises for n in range(one.sets * one.reps)]
    with Journal.open(journal_path) as journal:
        play(journal, START, reps=whole)
        play(
            journal,
            START + timedelta(days=1),
            reps=[rep(1), rep(2, "weak"), rep(3, "weak")],
            pain=(1, 6),
            ending="pain",
        )
        play(journal, START + timedelta(days=4), source="keyboard")
        text = Page(render_report(journal, knee, now=NOW - timedelta(days=1))).text
    assert "27 November 2026 1 of 44 pain ended the session (6 of 10); 2 attempts did not count (2 weak)" in text
    assert "28 November 2026 0 of 44 no session was begun" in text
    assert "30 November 2026 0 of 44 only practice without a sensor" in text
    assert (
        "3 planned days fell short" in text
        and "Pain cut 1 session short: 27 November 2026 (stop level, 5 of 10)" in text
    )
    assert "23 November 2026 2 of 3 45 of 132" in text, "the week, its days and its repetitions"


def test_sides_are_compared_with_an_interval_and_a_caution(ledger: Ledger) -> None:
    order = template("ankle-after-sprain")
    involved, uninvolved = order.muscles
    record = ledger.sessions[0].calibrations[0]
    both = [
        replace(record, muscle=involved.id, mvc_uv=162.0),
        replace(record, muscle=uninvolved.id, mvc_uv=180.0),
    ]
    sessions = [replace(session, records=tuple(both)) for session in ledger.counting()]
    (sides,) = compare([order], sessions)
    assert sides.ratio.index == pytest.approx(90.0) and sides.ratio.days == 3
    (once,) = compare([order], sessions[:1])
    assert once.ratio.high > 2 * sides.ratio.index, "one day cannot tell 90 % from half or twice as much"
    assert math.log(sides.ratio.high / 90) < math.log(once.ratio.high / 90) / 2
    assert "Whether 90\u00a0% is reached is open." in sides_sentence(once, Words("en"))
    for language in LANGUAGES:
        caution = catalogue(language)["muscle"]["sides_caution"]
        assert "57 %" in caution and "29 %" in caution and "Wellsandt 2017" in caution


def test_change_courses_and_the_patients_page_are_told(journal_path: Path, play: Play, knee: Prescription) -> None:
    with Journal.open(journal_path) as journal:
        for day, mvc in enumerate((100.0, 102.0, 109.0, 121.0, 140.0, 150.0, 180.0, 210.0, 240.0)):
            play(journal, START + timedelta(days=day), mvc_uv=mvc)
        ledger = read_ledger(journal)
    changed = []
    for number, session in enumerate(ledger.sessions):
        records = tuple(
            replace(one, cocontraction_pct=20.0 + number, median_frequency_decline_pct=22.0, cut_short="tired")
            if isinstance(one, SetRecord)
            else one
            for one in session.records
        )
        changed.append(replace(session, records=records))
    html = render_report(Ledger(tuple(changed)), knee.model_copy(update={"language": "de"}), now=NOW, language="en")
    text = Page(html).text
    assert "the maximum rose, by more than chance, shown on 4 December 2026" in text
    assert "since the change was shown" in html
    assert "overlapped by 27 % of their activity lately, more than at first (21 %)" in text
    assert (
        "the signal slowed by 22 % within a set lately, at most 22 % in a session; 9 sets were cut short for it" in text
    )
    german = render_report(Ledger(tuple(changed)), knee.model_copy(update={"language": "de"}), now=NOW)
    patient = german[german.index('<section class="patient"') :]
    assert 'lang="de"' in patient and "Die nächste Besprechung ist am 16. Dezember 2026." in patient
    assert "36" in patient and "Das Signal deines Muskels ist größer geworden" in patient
    assert "Das Maximum ist gestiegen, mehr als durch Zufall, gezeigt am 4. Dezember 2026." in Page(german).text


def keys_of(table: dict[str, Any], before: str = "") -> dict[str, set[str]]:
    """Every key of a catalogue, with the names of what is filled in."""
    found: dict[str, set[str]] = {}
    for key, value in table.items():
        if isinstance(value, dict):
            found |= keys_of(value, f"{before}{key}.")
        else:
            found[before + key] = set(re.findall(r"{(\w+)}", str(value)))
    return found


def test_both_catalogues_say_the_same_and_fill_in_the_same() -> None:
    english, german = keys_of(catalogue("en")), keys_of(catalogue("de"))
    assert english == german
    for key in ("cautions.lines", "methods.lines", "patient.cautions", "form.months"):
        table, name = key.split(".")
        assert len(catalogue("en")[table][name]) == len(catalogue("de")[table][name])


@pytest.mark.parametrize(
    ("note", "told"),
    [
        *zip(
            ENDED_BY_ITSELF,
            (
                "nobody answered",
                "the cues were not answered",
                "the muscle did not come to rest",
                "no steady maximum could be found",
                "an effort that was ordered could not be told from rest",
            ),
            strict=True,
        )
    ],
)
def test_what_ended_by_itself_is_not_said_to_be_the_patients_will(
    ledger: Ledger, knee: Prescription, note: str, told: str
) -> None:
    first = ledger.sessions[0]
    assert first.end is not None
    ended = replace(first, end=replace(first.end, ending="stopped", note=note))
    page = Page(render_report(Ledger((ended, *ledger.sessions[1:])), knee, now=NOW)).text
    assert told in page and "the patient stopped" not in page


def test_no_english_sentence_is_left_in_a_german_report(ledger: Ledger, knee: Prescription) -> None:
    """Titles of exercises and the clinic's name are the therapist's own words; all else is German."""
    exercises = tuple(one.model_copy(update={"title": f"Übung {n}"}) for n, one in enumerate(knee.exercises))
    muscles = tuple(one.model_copy(update={"name": "Oberschenkel"}) for one in knee.muscles)
    order = knee.model_copy(update={"exercises": exercises, "muscles": muscles, "clinic": "Praxis"})
    loose = [InterruptionRecord(60.0, 9.0, reason, fault) for reason, fault in zip(REASONS, FAULTS, strict=False)]
    loose.append(InterruptionRecord(70.0, 0.0, PASSED_OVER, exercises[0].id))
    first = replace(ledger.sessions[0], records=(*ledger.sessions[0].records, *loose))
    remarks = (*(written(code, session=2, name="journal.damaged") for code in JournalRemark),)
    told = Ledger(
        (first, *ledger.sessions[1:]), problems=remarks, notices=(f"2026-11-27T10:00:00+00:00: {remarks[-1]}",)
    )
    text = Page(render_report(told, order, now=NOW, language="de", until=START + timedelta(days=5))).text
    for name, words in catalogue("de")["fault"].items():
        assert words in text, name
    assert (
        "Sitzung 2 wurde nach dem Schließen verändert." in text and "am 27. November 2026 als journal.damaged" in text
    )
    assert "Das Tagebuch sagt" not in text
    assert "ausgelassen: in der Ruhe nicht zu erkennen: Übung 0" in text
    words = {word.lower() for word in re.findall(r"[A-Za-z]+", text)}
    common = {"the", "of", "and", "were", "is", "not", "with", "days", "session", "pain", "none", "to", "or"}
    common |= {*FAULTS} - {"contact"} | {"lost", "it"}
    assert words & common == set()


def test_patients_are_called_du_and_therapists_sie() -> None:
    """In German one address for each reader: on the patient's page and leaflet as everywhere in the program."""
    formal = re.compile(r"\b(Sie|Ihr(e[mnrs]?)?|Ihnen)\b")
    with (files("musclewood.assets") / "text" / "de.toml").open("rb") as file:
        leaflet = tomllib.load(file)["leaflet"]
    for table in (catalogue("de")["patient"], leaflet):
        for sentence in table.values():
            assert not formal.search(str(sentence)), sentence
    rest = {key: value for key, value in catalogue("de").items() if key != "patient"}
    assert not re.search(r"\b([Dd]u|[Dd]ein(e[mnrs]?)?|[Dd]ir|[Dd]ich)\b", str(rest))


def test_no_number_is_printed_finer_than_anybody_can_use(ledger: Ledger, knee: Prescription) -> None:
    record = ScalingRecord("thigh-hold", 39.2849, 40.1187, 8.0, 7.512, 6.0, 6.0, 0.84, "A little more.", "Because.")
    first = ledger.sessions[0]
    moved = Ledger((replace(first, records=(*first.records, record)), *ledger.sessions[1:]))
    text = Page(render_report(moved, knee, now=NOW)).text
    assert "39.3 → 40.1" in text and not re.search(r"\d\.\d\d", text.split("How the figures")[0])


def test_what_has_not_been_seen_is_not_called_undone(ledger: Ledger, knee: Prescription) -> None:
    """A hand-over of the evening of the third day, looked at two weeks later."""
    until = START + timedelta(days=2, hours=3)
    later = render_report(ledger_until(ledger, until), knee, now=NOW + timedelta(days=14), until=until)
    text, at_once = Page(later).text, Page(render_report(ledger_until(ledger, until), knee, now=until)).text
    assert "Covers 25 November 2026 to 28 November 2026" in text and "no session was begun" not in text
    assert "What was done after 28 November 2026 is not known yet" in text and "not known yet: this is" not in at_once
    share = re.search(r"\d+ % of the order", text)
    assert share and share.group() in at_once, "waiting changes no figure"
    facts = facts_of("HB-0042", [knee], ledger_until(ledger, until), until.date())
    assert f"{facts.adherence_pct:.0f} % of the order" == share.group(), "the desk's list says the same"


def ledger_until(ledger: Ledger, moment: datetime) -> Ledger:
    return replace(ledger, sessions=tuple(one for one in ledger.sessions if one.started < moment))


def test_no_date_that_has_passed_is_promised(ledger: Ledger, knee: Prescription) -> None:
    early, late = (Page(render_report(ledger, knee, now=NOW + timedelta(days=days))).text for days in (0, 60))
    assert "review on 16 December 2026" in early and "Your next review is on" in early
    assert "review was due on 16 December 2026" in late and "arrange another" in late
    assert "Your next review" not in late and "Ask your therapist for a new appointment." in late
    ended = knee.model_copy(update={"expires": NOW.date()})
    text = Page(render_report(ledger, ended, now=NOW + timedelta(days=60))).text
    assert "The prescription ended on 2 December 2026" in text and "Go on as ordered" not in text


def test_which_rule_ended_a_session_is_told(journal_path: Path, play: Play, knee: Prescription) -> None:
    rise = knee.stop.pain_rise_stop
    with Journal.open(journal_path) as journal:
        play(journal, START, pain=(0, knee.stop.pain_stop), ending="pain")
        play(journal, START + timedelta(days=1), pain=(0, rise), ending="pain")
        play(journal, START + timedelta(days=2), pain=(0, 1), ending="pain")
        text = Page(render_report(journal, knee, now=NOW)).text
    assert "Pain cut 3 sessions short" in text and f"26 November 2026 (stop level, {knee.stop.pain_stop} of 10)" in text
    assert f"27 November 2026 (rise by {rise} or more)" in text
    assert "28 November 2026 (the patient said that it hurts)" in text


def test_pain_after_all_was_done_has_ended_nothing(
    journal_path: Path, play: Play, rep: Any, knee: Prescription
) -> None:
    """Told apart by when it was answered; the same in the report, on the desk's list and for other systems."""
    with Journal.open(journal_path) as journal:
        play(journal, START, reps=[rep(number) for number in range(1, 12)], pain=(0, knee.stop.pain_stop))
        (session,) = read_ledger(journal).sessions
    assert session.end is not None
    ended = replace(session, end=replace(session.end, ending="pain"))
    for language, none, after in (
        ("en", "Pain cut no session short", ("After 1 session, with nothing cut short, pain called for a "
            "stop: 26 November")),
        ("de", "Schmerz brach keine Sitzung ab", ("Nach 1 Sitzung, in der nichts ausfiel, verlangte der "
            "Schmerz einen Halt: 26.")),
    ):  # fmt: skip
        text = Page(render_report(Ledger((ended,)), knee, now=NOW, language=language)).text
        assert none in text and after in text
        assert "Pain ended" not in text and "pain ended the session" not in text and "Schmerz beendete" not in text
    assert not facts_of("HB-0042", [knee], Ledger((ended,)), NOW.date()).pain_ended


def test_pain_that_ended_a_session_is_never_called_low(journal_path: Path, play: Play, knee: Prescription) -> None:
    """Whoever stopped because it hurt is told to talk about it, whatever the number; a first
    day is thanked in seconds."""
    with Journal.open(journal_path) as journal:
        play(journal, START, pain=(0, 1), ending="pain")
        text = Page(render_report(journal, knee, now=NOW)).text
    own = text[text.index("For you") :]
    assert "You felt pain up to 1 of 10. Talk about it." in own and "Pain stayed low" not in own
    assert "seconds well aimed" in own and "1 day of exercise" in own


def test_more_days_than_bars_can_be_told_apart_become_weeks_and_a_calendar(ledger: Ledger, knee: Prescription) -> None:
    zone = zone_of(knee.timezone)
    sessions = ledger.counting()
    days = adherence([knee], sessions, knee.issued, knee.issued + timedelta(days=207), zone).days
    rows = weeks(days, sessions, zone)
    assert len(rows) == 30 and sum(row.reps_counted for row in rows) == sum(day.reps_counted for day in days) == 51
    assert (rows[0].days_done, rows[0].highest_pain, rows[1].highest_pain) == (3, 3, None)
    figure = report_figures.calendar_of(days, Words("en"))
    assert all(word in figure for word in ("a part", "nothing", "rest day", "Mon", "Sun")) and figure.count("<svg") == 1


def test_every_verdict_has_its_mark(rep: Callable[..., RepRecord]) -> None:
    """No mark makes the drawing library warn, which would reach whoever asked for the report."""
    reps = [rep(number, verdict) for number, verdict in enumerate(report_figures.MARKS, start=1)]
    drawn = report_figures.effort_by_rep(reps, 60.0, "Effort against the band", Words("en"))
    assert all(colour.lower() in drawn.lower() for _, colour in report_figures.MARKS.values())
