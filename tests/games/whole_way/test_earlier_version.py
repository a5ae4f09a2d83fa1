"""A home, a desk and the folder between them, left behind by version 0.1.0, are opened and used.

`earlier_version.zip` was written by that version's own commands: a key, two revisions of one order, a paired home with
one session from a recording, a hand-over that the desk received, and settings. Nothing in it may ever be made anew.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from zipfile import ZipFile

import pytest
from musclewood.games.__main__ import main
from musclewood.games.kit.settings import load
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.ledger import read_ledger
from musclewood.profiles.orders.prescription import parse, read_text

LEFT_BEHIND = Path(__file__).parent / "earlier_version.zip"
PASSPHRASE = "twig lantern kettle plank"
Run = Callable[..., str]


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folders as they were left: `desk`, `home` and the `stick` between them."""
    with ZipFile(LEFT_BEHIND) as archive:
        archive.extractall(tmp_path)
    for settings in (tmp_path / "desk" / "desk.toml", tmp_path / "home" / "trust" / "exchange.toml"):
        text = settings.read_text("utf-8")
        settings.write_text(text.replace("EXCHANGE", (tmp_path / "stick").as_posix()), "utf-8")
    monkeypatch.setenv("MUSCLEWOOD_PASSPHRASE", PASSPHRASE)
    return tmp_path


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command that succeeds; gives what it printed."""

    def command(*arguments: str | Path) -> str:
        code = main([str(argument) for argument in arguments])
        told = capsys.readouterr()
        assert code == 0, told
        return told.out

    return command


def test_the_journal_still_tells_what_was_done(place: Path) -> None:
    with Journal.open(place / "home" / "journals" / "HB-0042.sqlite") as journal:
        assert journal.verify() == []
        (session,) = read_ledger(journal).sessions
    assert [rep.verdict for rep in session.reps] == ["counted", "counted"]
    assert session.calibrations[0].mvc_uv == pytest.approx(179, abs=1)


def test_the_home_plays_on_under_its_old_order_and_sends(place: Path, run: Run, bursts: Path) -> None:
    order = place / "home" / "prescriptions" / "HB-0042.toml"
    assert parse(read_text(order)).revision == 1
    told = run("play", order, "--source", f"replay:{bursts}", "--offscreen", "--fast", "--home", place / "home")
    assert len(re.findall(r"attempt \d+: counted", told)) == 2
    told = run("exchange", "--home", place / "home")
    assert "now in force" in told and "sent: " in told
    assert parse(read_text(order)).revision == 2
    told = run("desk", "--desk", place / "desk", "collect")
    assert "received: hand-over 2 of HB-0042" in told


def test_the_desk_lists_reports_and_signs_with_its_old_key(place: Path, run: Run) -> None:
    desk = ("desk", "--desk", place / "desk")
    assert "HB-0042: order 2" in run(*desk, "patients")
    report = Path(run(*desk, "report", "HB-0042").removeprefix("report: ").strip())
    assert "HB-0042" in report.read_text("utf-8")
    assert "issued: revision 3" in run(
        *desk, "prescribe", "--patient", "HB-0042", "--set", "exercises.0.reps=4", "--issue", "--acknowledge"
    )


def test_choices_made_at_home_are_kept(place: Path) -> None:
    settings = load(place / "home" / "settings.toml")
    assert (settings.text_scale, settings.language, settings.hand, settings.muscle_leads) == (1.2, "de", "left", True)
