"""From the desk to the patient and back, twice, through the commands alone: two homes that
share only a memory stick."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from musclewood.games.__main__ import main
from musclewood.games.commands import play as play_command
from musclewood.games.home import places
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.exchange.folder import TO_CLINIC
from musclewood.profiles.home.homes import Home
from musclewood.profiles.trust import key_file
from musclewood.profiles.trust.key_file import LOWEST

PASSPHRASE = "twig lantern kettle plank"
# What fits the invented recording: short, strong contractions, and a calibration that takes a second.
DOSE = {
    "calibration": {"rest_s": 1, "trials": 1, "trial_s": 1, "rest_between_s": 1},
    "ceilings": {"reps_per_day": 2000, "reps_per_week": 10000, "minutes_per_day": 240, "sessions_per_week": 28},
    "exercises.0": {"sets": 1, "hold_s": 0.5, "rest_s": 1},
    "exercises.0.effort": {"target_pct_mvc": 80, "min_pct_mvc": 75, "max_pct_mvc": 85, "tolerance_pct_mvc": 30,
                           "ceiling_pct_mvc": 120},
    "exercises.0.scaling": {"tolerance_max_pct_mvc": ""},
}  # fmt: skip
DAYS = ("days=mon tue wed thu fri sat sun", "sessions_per_day=4", "hours_between_sessions=0")
Run = Callable[..., str]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Run a command; gives what it printed."""

    def command(*arguments: str | Path, fails: str | None = None) -> str:
        code = main([str(argument) for argument in arguments])
        told = capsys.readouterr()
        if fails is None:
            assert (code, told.err) == (0, ""), told
            return told.out
        assert code == 1 and re.search(fails, told.err + told.out), told
        return told.err + told.out

    return command


@pytest.fixture
def desk(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, run: Run) -> Path:
    """A desk with a key, whose exchange folder is a memory stick."""
    monkeypatch.setenv("MUSCLEWOOD_PASSPHRASE", PASSPHRASE)
    monkeypatch.setattr(Clinic.make_key, "__defaults__", (LOWEST,))  # the strength of the lock has a test of its own
    (tmp_path / "stick").mkdir()
    run("desk", "--desk", tmp_path / "desk", "key", "new")
    run(
        "desk",
        "--desk",
        tmp_path / "desk",
        "settings",
        "--clinic",
        "Hornbeam practice",
        "--exchange",
        tmp_path / "stick",
    )
    return tmp_path / "desk"


def order(patient: str, reps: int) -> list[str]:
    doses = [f"{table}.{key}={value}" for table, values in DOSE.items() for key, value in values.items()]
    changes = [f"--set={change}" for change in (*doses, *DAYS, "muscles.0.side=left", f"exercises.0.reps={reps}")]
    start = ["--from", "weak-thigh-after-knee-operation", "--without", "thigh-quick", "--without", "thigh-wave"]
    return ["prescribe", "--patient", patient, *start, *changes, "--issue", "--acknowledge"]


def words_in(text: str) -> str:
    return re.search(r"words: (.*)", text)[1]  # type: ignore[index]


def played(text: str) -> int:
    return len(re.findall(r"^thigh-hold, set \d+, attempt \d+: counted", text, re.MULTILINE))


def clocks() -> tuple[type[datetime], type[datetime]]:
    """Those of two sessions of one day, an hour apart: a recording is played faster than time passes, so the second
    would begin before the first one's end. In the day's last hour, where the order lives, the first was an hour ago."""
    here = datetime.now(ZoneInfo("Europe/Prague"))
    late = (here + timedelta(hours=1)).date() != here.date()
    return _clock(-1 if late else 0), _clock(0 if late else 1)


def _clock(hours_ahead: int) -> type[datetime]:
    class Clock(datetime):
        @classmethod
        def now(cls, tz: Any = None) -> Any:
            return datetime.now(tz) + timedelta(hours=hours_ahead)

    return Clock


def test_prescribe_play_hand_over_report_change_and_play_again(
    run: Run, desk: Path, bursts: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    home, stick, (first, second) = tmp_path / "home", tmp_path / "stick", clocks()
    on_desk: tuple[str | Path, ...] = ("desk", "--desk", desk)
    at_home = ("--home", home)
    prescription = home / "prescriptions" / "HB-0042.toml"
    play = ("play", prescription, "--source", f"replay:{bursts}", "--offscreen", "--fast", *at_home)

    # The clinic prescribes and signs; the home asks before it trusts, and nothing is there until it does.
    assert "issued: revision 1 for HB-0042" in run(*on_desk, *order("HB-0042", 2))
    visit = ("exchange", stick, "--patient", "HB-0042", *at_home)
    run(*visit, fails="not confirmed")
    assert not prescription.exists()
    taken = run(*visit, "--words", words_in(run(*on_desk, "key", "show")))
    assert "now paired with this clinic" in taken
    monkeypatch.setattr(play_command, "datetime", first)
    computer = words_in(taken.splitlines()[-1])

    # The patient plays and hands over; the desk asks about the computer before it lets anything in.
    first = played(run(*play))
    assert first == 2
    assert run("exchange", *at_home).count("sent: ") == 1
    run(*on_desk, "collect", fails="computer that was not accepted")
    assert "received: hand-over 1 of HB-0042" in run(*on_desk, "collect", "--words", computer)
    assert "nothing new" in run(*on_desk, "collect")
    assert "HB-0042: order 1, last hand-over" in run(*on_desk, "patients")
    report = Path(run(*on_desk, "report", "HB-0042").removeprefix("report: ").strip())
    page = report.read_text("utf-8")
    assert (
        "25\N{NO-BREAK SPACE}% of the order was done in" in page
        and ": 2 of 8 ordered repetitions, on 1 of 1 planned days." in page
    )

    # The therapist changes the dose; the home takes the new revision without a question, and plays by it.
    changed = run(
        *on_desk, "prescribe", "--patient", "HB-0042", "--set", "exercises.0.reps=3", "--issue", "--acknowledge"
    )
    assert "repetitions a set up from 2 to 3." in changed and "issued: revision 2" in changed
    assert "prescription 2 for HB-0042: from the clinic you are paired with; now in force" in run("exchange", *at_home)
    monkeypatch.setattr(play_command, "datetime", second)
    assert played(run(*play)) == 3
    run("exchange", *at_home)
    # This time it comes on a stick that the patient brings to the visit, not through the clinic's folder.
    brought = tmp_path / "media" / "ada" / "BROUGHT"
    brought.mkdir(parents=True)
    (stick / TO_CLINIC).rename(brought / TO_CLINIC)
    assert "nothing new" in run(*on_desk, "collect")
    monkeypatch.setattr(places, "sticks", lambda _: [brought])
    assert "received: hand-over 2 of HB-0042" in run(*on_desk, "collect")
    page = Path(run(*on_desk, "report", "HB-0042").removeprefix("report: ").strip()).read_text("utf-8")
    assert (
        "42\N{NO-BREAK SPACE}% of the order was done in" in page
        and ": 5 of 12 ordered repetitions, on 1 of 1 planned days." in page
    )
    done = Clinic(desk).done("HB-0042")
    assert [session.start.revision for session in done.sessions] == [1, 2]
    # The older file is no way back.
    older = desk / "orders" / "HB-0042-0001.prescription.toml"
    run("take", older, *at_home, fails="2 is already in force")
    assert Home(home).patients() == ("HB-0042",)

    secrets = (PASSPHRASE.encode(), key_file.open_key_file(desk / "clinic-key.toml", PASSPHRASE).root)
    for path in tmp_path.rglob("*"):
        if path.is_file():
            content = path.read_bytes()
            assert not any(secret in content or secret.hex().encode() in content for secret in secrets), path
            assert path.suffix != ".sealed" or (b"thigh-hold" not in content and b"HB-0042" not in content)
