"""The journal: nothing lost, nothing changed, nothing silently replaced."""

from __future__ import annotations

import math
import os
import signal
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from musclewood.profiles.errors import JournalError
from musclewood.profiles.journal import schema as journal_schema
from musclewood.profiles.journal.history import read_history
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import (
    CalibrationRecord,
    InterruptionRecord,
    RatingRecord,
    RepRecord,
    ScalingRecord,
    SessionEnd,
    SessionStart,
    SetRecord,
    from_plain,
    to_plain,
)

START = SessionStart("HB-0042", 1, "ble", "2026-11-25T10:00:00+01:00", "Europe/Prague")
END = SessionEnd("2026-11-25T10:10:00+01:00", "complete")
Play = Callable[..., int]
MakeRep = Callable[..., RepRecord]


def test_every_kind_of_record_comes_back_unchanged(journal_path: Path, rep: MakeRep) -> None:
    written: list[Any] = [
        CalibrationRecord("vastus-medialis", 0, 12.5, 3.0, 180.25, 0.04, (171.0, 180.25, 175.5), 178.0, "bias 3 %"),
        rep(1),
        rep(2, "compensated", opposite_mean_pct_mvc=22.0),
        SetRecord("thigh-hold", 1, 10, 1, 2, 60.0, 90.0, "tired", 21.5, 30.2, 0.98, "fair"),
        InterruptionRecord(95.0, 12.0, "contact lost", "left electrode"),
        RatingRecord(200.0, "pain", 3, "after", "thigh-hold"),
        ScalingRecord("thigh-hold", 35.0, 37.0, 8.0, 7.5, 6.0, 6.0, 0.81, "Going well.", "Skill 0.61."),
    ]
    with Journal.open(journal_path) as journal:
        session = journal.begin_session(START)
        for record in written:
            journal.add(session, record)
        journal.end_session(session, END)
    with Journal.open(journal_path) as journal:
        assert journal.all_records(session) == written
        assert journal.records(session, RepRecord) == written[1:3]
        (summary,) = journal.sessions()
        assert (summary.start, summary.end) == (START, END)
        assert summary.counted == {"thigh-hold": 1} and summary.attempts == {"thigh-hold": 2}
        assert summary.highest_pain == 3
        assert journal.verify() == []


def test_a_figure_that_could_not_be_measured_is_nan_again(rep: MakeRep) -> None:
    plain = to_plain(rep(steadiness=math.nan, effort_profile=(1.0, math.inf)))
    assert plain["steadiness"] is None and plain["effort_profile"] == [1.0, None]
    again = from_plain(RepRecord, plain)
    assert math.isnan(again.steadiness) and math.isnan(again.effort_profile[1]) and again.opposite_mean_pct_mvc is None


@pytest.mark.parametrize("table", ["sessions", "records", "endings", "notices", "readings"])
def test_what_was_written_cannot_be_changed(journal_path: Path, play: Play, table: str) -> None:
    with Journal.open(journal_path) as journal:
        play(journal, datetime(2026, 11, 25, 9, tzinfo=UTC))
        journal._notice("something about the file", None)
    db = sqlite3.connect(journal_path)
    columns = [row[1] for row in db.execute(f"PRAGMA table_info({table})")]
    attempts = [
        f"UPDATE {table} SET {columns[-1]} = 'x'",
        f"DELETE FROM {table}",
        f"INSERT OR REPLACE INTO {table} SELECT * FROM {table}",
    ]
    for attempt in attempts:
        with pytest.raises(sqlite3.DatabaseError, match=r"append-only|not open"):
            db.execute(attempt)
    db.close()


def test_a_closed_session_takes_no_more_records(journal_path: Path, play: Play, rep: MakeRep) -> None:
    with Journal.open(journal_path) as journal:
        session = play(journal, datetime(2026, 11, 25, 9, tzinfo=UTC))
        with pytest.raises(JournalError, match="not open"):
            journal.add(session, rep(9))
        with pytest.raises(JournalError):
            journal.end_session(session, END)
        with pytest.raises(JournalError):
            journal.add(session + 1, rep(9))


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE records SET body = replace(body, '\"counted\"', '\"weak\"') WHERE record_id = 3",
        "UPDATE records SET written_at = '2020-01-01' WHERE record_id = 2",
        "UPDATE records SET verdict = 'weak' WHERE record_id = 3",
        "DELETE FROM records WHERE record_id = 4",
        "UPDATE sessions SET body = replace(body, '\"ble\"', '\"lsl\"') WHERE session_id = 1",
        "UPDATE endings SET body = replace(body, 'complete', 'pain') WHERE session_id = 1",
        "INSERT INTO records SELECT 999, 1, written_at, type, exercise_id, verdict, body FROM records LIMIT 1",
        "DELETE FROM endings WHERE session_id = 1",
    ],
)
def test_a_change_behind_the_triggers_shows(journal_path: Path, play: Play, change: str) -> None:
    with Journal.open(journal_path) as journal:
        for day in (25, 26, 27):
            play(journal, datetime(2026, 11, day, 9, tzinfo=UTC))
        assert journal.verify() == []
        sealed = journal.last_hash()
    db = sqlite3.connect(journal_path)
    for (trigger,) in db.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        db.execute(f"DROP TRIGGER {trigger}")
    db.execute(change)
    db.commit()
    db.close()
    with Journal.open(journal_path) as journal:
        problems = journal.verify()
        assert problems and all("\n" not in line for line in problems)
        assert journal.last_hash() == sealed or "endings" in change


def test_a_second_opener_is_told_so(journal_path: Path) -> None:
    with Journal.open(journal_path) as journal:
        session = journal.begin_session(START)
        with pytest.raises(JournalError, match="open in another program"):
            Journal.open(journal_path)
        journal.add(session, RatingRecord(1.0, "pain", 0, "before"))
    other = "import sys; from musclewood.profiles.journal.journal import Journal; Journal.open(sys.argv[1])"
    with Journal.open(journal_path):
        told = subprocess.run(
            [sys.executable, "-c", other, str(journal_path)], capture_output=True, text=True, check=False
        )
        assert "open in another program" in told.stderr
    Journal.open(journal_path).close()


_WRITER = """
import sys
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import RatingRecord, SessionStart
journal = Journal.open(sys.argv[1])
session = journal.begin_session(SessionStart("HB-0042", 1, "ble", "2026-11-25T10:00:00+01:00"))
number = 0
while True:
    journal.add(session, RatingRecord(float(number), "effort", number % 11, "during"))
    print(number, flush=True)
    number += 1
"""


@pytest.mark.skipif(os.name == "nt", reason="needs SIGKILL")
def test_nothing_that_was_written_is_lost_when_the_program_is_killed(journal_path: Path) -> None:
    for moment in (0.05, 0.12, 0.2):
        writer = subprocess.Popen([sys.executable, "-c", _WRITER, str(journal_path)], stdout=subprocess.PIPE, text=True)
        assert writer.stdout is not None
        said = [writer.stdout.readline()]
        time.sleep(moment)
        writer.send_signal(signal.SIGKILL)
        said += writer.stdout.readlines()
        writer.wait()
        writer.stdout.close()
        promised = int([line for line in said if line.endswith("\n")][-1])
        with Journal.open(journal_path) as journal:
            summary = journal.sessions()[-1]
            kept = journal.records(summary.session_id, RatingRecord)
            assert [int(rating.at_s) for rating in kept][: promised + 1] == list(range(promised + 1))
            assert summary.end is not None and summary.end.ending == "interrupted"
            assert journal.verify() == []


def test_a_session_left_open_is_closed_with_its_reps(journal_path: Path, rep: MakeRep, clock: Any) -> None:
    journal = Journal.open(journal_path, clock=clock)
    session = journal.begin_session(START)
    clock.moment += timedelta(minutes=3)
    journal.add(session, rep(1))
    clock.moment += timedelta(hours=5)
    journal.close()  # as a crash would, without ending the session
    with Journal.open(journal_path, clock=clock) as journal:
        (summary,) = journal.sessions()
        assert summary.end is not None and summary.end.ending == "interrupted"
        assert datetime.fromisoformat(summary.end.ended_at) == datetime(2026, 11, 25, 9, 3, tzinfo=UTC)
        assert summary.counted == {"thigh-hold": 1}
        assert journal.begin_session(START) == session + 1


def test_a_full_disk_is_said_and_costs_nothing_written_before(journal_path: Path, rep: MakeRep) -> None:
    with Journal.open(journal_path) as journal:
        session = journal.begin_session(START)
        journal.add(session, rep(1))
        (pages,) = journal._db.execute("PRAGMA page_count").fetchone()
        journal._db.execute(f"PRAGMA max_page_count = {pages}")
        kept = 1
        with pytest.raises(JournalError, match="disk is full"):
            for number in range(2, 500):
                journal.add(session, rep(number))
                kept += 1
        journal._db.execute("PRAGMA max_page_count = 1000000")  # somebody made room
        journal.add(session, rep(kept + 1))
    with Journal.open(journal_path) as journal:
        assert [record.rep_number for record in journal.records(session, RepRecord)] == list(range(1, kept + 2))
        assert journal.verify() == []


@pytest.mark.skipif(os.name == "nt", reason="needs a file size limit")
def test_a_write_that_the_system_refuses_is_one_clear_line(journal_path: Path) -> None:
    program = (
        "import resource, signal, sys\n"
        "from musclewood.profiles.journal.journal import Journal\n"
        "from musclewood.profiles.journal.records import RatingRecord, SessionStart\n"
        "from musclewood.profiles.errors import JournalError\n"
        "journal = Journal.open(sys.argv[1])\n"
        "session = journal.begin_session(SessionStart('HB-0042', 1, 'ble', '2026-11-25T10:00:00+01:00'))\n"
        "signal.signal(signal.SIGXFSZ, signal.SIG_IGN)\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (150_000, resource.RLIM_INFINITY))\n"
        "number = 0\n"
        "try:\n"
        "    while True:\n"
        "        journal.add(session, RatingRecord(float(number), 'effort', 1, 'during'))\n"
        "        number += 1\n"
        "except JournalError as error:\n"
        "    print(number); print(error)\n"
    )
    result = subprocess.run(
        [sys.executable, "-c", program, str(journal_path)], capture_output=True, text=True, check=False
    )
    number, line = result.stdout.splitlines()
    assert "the journal" in line and "disk" in line, result.stderr
    with Journal.open(journal_path) as journal:
        kept = journal.records(1, RatingRecord)
        assert len(kept) >= int(number) > 0


def test_a_place_that_cannot_hold_a_journal(tmp_path: Path) -> None:
    blocker = tmp_path / "file"
    blocker.write_text("not a folder")
    for path in (blocker / "journal.sqlite", tmp_path):
        with pytest.raises(JournalError) as caught:
            Journal.open(path)
        assert "\n" not in str(caught.value) and caught.value.remedy


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="permissions do not bind this user")
def test_a_read_only_journal(journal_path: Path) -> None:
    Journal.open(journal_path).close()
    journal_path.chmod(0o400)
    journal_path.parent.chmod(0o500)
    try:
        with pytest.raises(JournalError, match="cannot be"):
            Journal.open(journal_path)
    finally:
        journal_path.parent.chmod(0o700)


@pytest.mark.parametrize("damage", ["text", "empty", "header", "middle", "cut"])
def test_a_damaged_journal_is_set_aside_and_said(journal_path: Path, play: Play, damage: str) -> None:
    with Journal.open(journal_path) as journal:
        for number in range(12):
            play(journal, datetime(2026, 11, 1, 9, tzinfo=UTC) + timedelta(days=number))
    content = bytearray(journal_path.read_bytes())
    if damage == "text":
        content = bytearray(b"this was never a journal " * 400)
    elif damage == "empty":
        content = bytearray()
    elif damage == "header":
        content[:16] = b"x" * 16
    elif damage == "middle":
        content[4096:-4096] = bytes(len(content) - 8192)
    else:
        content = content[: len(content) // 2 + 100]
    journal_path.write_bytes(content)
    with Journal.open(journal_path) as journal:
        assert journal.sessions() == []
        assert journal.set_aside is not None and journal.set_aside.read_bytes() == bytes(content)
        (notice,) = journal.notices()
        assert journal.set_aside.name in notice
        play(journal, datetime(2026, 11, 25, 9, tzinfo=UTC))
    with Journal.open(journal_path) as journal:
        assert journal.set_aside is None and len(journal.notices()) == 1 and len(journal.sessions()) == 1


def test_a_database_of_another_program_is_left_alone(journal_path: Path) -> None:
    db = sqlite3.connect(journal_path)
    db.execute("CREATE TABLE recipes (name TEXT)")
    db.commit()
    db.close()
    before = sorted(path.name for path in journal_path.parent.iterdir())
    with pytest.raises(JournalError, match="another program"):
        Journal.open(journal_path)
    assert sorted(path.name for path in journal_path.parent.iterdir() if "-" not in path.name[-4:]) == before
    db = sqlite3.connect(journal_path)
    assert db.execute("SELECT COUNT(*) FROM recipes").fetchone() == (0,)
    db.close()


def test_an_older_journal_is_brought_up_to_date(
    journal_path: Path, play: Play, monkeypatch: pytest.MonkeyPatch
) -> None:
    now = journal_schema.MIGRATIONS
    with monkeypatch.context() as earlier:
        earlier.setattr(journal_schema, "MIGRATIONS", now[:1])
        earlier.setattr(Journal, "_read_clocks", lambda *_, **__: None)  # nobody looked at the machine's time then
        with Journal.open(journal_path) as journal:
            play(journal, datetime(2026, 11, 25, 9, tzinfo=UTC))
            sealed = journal.last_hash()
    monkeypatch.setattr(journal_schema, "MIGRATIONS", (*now, "CREATE TABLE later (x);"))
    with Journal.open(journal_path) as journal:
        assert journal.verify() == [] and journal.last_hash() == sealed
        play(journal, datetime(2026, 11, 26, 9, tzinfo=UTC))
        assert journal.verify() == [] and [one.moment for one in journal.readings()] == ["open", "begin", "end"]
        assert journal._db.execute("PRAGMA user_version").fetchone() == (len(now) + 1,)
    monkeypatch.setattr(journal_schema, "MIGRATIONS", now)
    with pytest.raises(JournalError, match="newer Musclewood"):
        Journal.open(journal_path)


def test_practice_is_marked_and_never_counts(journal_path: Path, play: Play) -> None:
    with Journal.open(journal_path) as journal:
        for day, source in enumerate(("ble", "keyboard", "simulated", "replay", "lsl"), start=20):
            play(journal, datetime(2026, 11, day, 9, tzinfo=UTC), source=source)
        assert [summary.practice for summary in journal.sessions()] == [False, True, True, False, False]
        history = read_history(journal)
        assert [session.start.source for session in history.sessions] == ["ble", "replay", "lsl"]
        assert {session_id for session_id, _ in history.calibrations} == {1, 4, 5}


_TEXT = st.text(max_size=30).filter(lambda text: "\ud800" not in text)
_FIGURE = st.floats(allow_nan=False, allow_infinity=False, width=32).map(float)
_ANY_RECORD = st.one_of(
    st.builds(InterruptionRecord, _FIGURE, _FIGURE, _TEXT, st.none() | _TEXT),
    st.builds(CalibrationRecord, _TEXT, st.integers(0, 15), *[_FIGURE] * 3, st.none() | _FIGURE,
              st.lists(_FIGURE, max_size=5).map(tuple), _FIGURE, st.none() | _TEXT),
    st.builds(SetRecord, _TEXT, *[st.integers(0, 50)] * 4, _FIGURE, _FIGURE, st.none() | _TEXT, st.none() | _FIGURE),
)  # fmt: skip


def test_replaying_a_journal_gives_the_same_state(tmp_path: Path, full: bool) -> None:
    numbers = iter(range(10**9))

    @settings(
        max_examples=10_000 if full else 12,
        deadline=None,
        database=None,
        suppress_health_check=[HealthCheck.too_slow],
    )
    @given(st.lists(st.lists(_ANY_RECORD, max_size=6), max_size=4), st.booleans())
    def replay(sessions: list[list[Any]], crash: bool) -> None:
        path = tmp_path / f"{next(numbers)}.sqlite"
        with Journal.open(path) as journal:
            for number, records in enumerate(sessions):
                session = journal.begin_session(START)
                for record in records:
                    journal.add(session, record)
                if number + 1 < len(sessions) or not crash:
                    journal.end_session(session, END)
        for _ in range(2):
            with Journal.open(path) as journal:
                read = [journal.all_records(summary.session_id) for summary in journal.sessions()]
                assert read == sessions
                assert all(summary.end is not None for summary in journal.sessions())
                assert journal.verify() == []
        path.unlink()

    replay()
