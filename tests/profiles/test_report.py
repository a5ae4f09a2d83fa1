"""The report: complete, self-contained, and honest about what is chance and what is demonstration."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from musclewood.profiles.journal import Journal
from musclewood.profiles.ledger import Ledger, read_ledger
from musclewood.profiles.prescription import Prescription
from musclewood.profiles.report import render_report

Play = Callable[..., int]
START = datetime.fromisoformat("2026-11-26T17:00:00+01:00")
NOW = datetime(2026, 12, 2, 18, tzinfo=UTC)


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
    assert "51 of 220 ordered repetitions were made, on 3 days of 5 planned: 23 % of the order" in page.text
    assert "this may be the electrodes' place alone" in page.text
    assert "Pain stayed below the stop level: at most 3 of 10 (stop at 5)" in page.text
    assert page.text.index("51 of 220") < page.text.index("Ordered and done")


def test_every_section_and_every_caution_is_there(ledger: Ledger, knee: Prescription) -> None:
    text = Page(render_report(ledger, knee, now=NOW)).text
    for heading in (
        "Ordered and done",
        "Effort, repetition by repetition",
        "Recent maximum",
        "Pain and effort as answered",
        "What the program changed, and why",
        "Signal and interruptions",
        "How the figures are computed",
    ):
        assert heading in text
    for words in (
        "not a medical device",
        "Follow your therapist",
        "local rules and licensed practice decide",
        "Stop on pain, dizziness or a skin reaction",
        "implanted device, in pregnancy or on broken skin",
    ):
        assert words in text


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
    assert "55 of 220" in text and "Pain reached 9 of 10" in text


def test_nothing_done_yet_is_a_report_too(knee: Prescription) -> None:
    text = Page(render_report(Ledger(()), knee, now=NOW)).text
    assert "Nothing has been done yet that counts." in text and "Nothing measured yet." in text


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
    assert "Worth checking" in text and "session 2: it was changed" in text
