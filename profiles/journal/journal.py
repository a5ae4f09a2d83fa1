"""The patient's local record: append-only, durable, and checked against tampering.

One SQLite file a patient. `add` returns only when the record is on the disk (write-ahead log, `synchronous=FULL`).
Triggers refuse every change of what was written; each closed session carries the hash of the one before, so that a
change made behind the triggers shows in `verify`. A damaged file is set aside and said so, never silently replaced.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self, TypeVar

from musclewood.assets.saying import say
from musclewood.profiles.disk.files import close_files_to_others, sync_folder
from musclewood.profiles.errors import JournalError
from musclewood.profiles.journal.chain import FIRST_HASH, canonical, session_hash
from musclewood.profiles.journal.machine_time import running_time
from musclewood.profiles.journal.records import (
    NAME_OF,
    RECORD_NAMES,
    Record,
    SessionEnd,
    SessionStart,
    from_plain,
    to_plain,
)
from musclewood.profiles.journal.remarks import JournalRemark, written
from musclewood.profiles.journal.schema import bring_up_to_date, explained

Clock = Callable[[], datetime]
Machine = Callable[[], tuple[str, float | None]]
OneRecord = TypeVar("OneRecord", bound=Record)


@dataclass(frozen=True)
class SessionSummary:
    """One session at a glance. `counted` and `attempts` are reps by exercise; an open session has no end."""

    session_id: int
    start: SessionStart
    end: SessionEnd | None
    counted: dict[str, int] = field(default_factory=dict)
    attempts: dict[str, int] = field(default_factory=dict)
    highest_pain: int | None = None

    @property
    def practice(self) -> bool:
        return self.start.practice


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked of a muscle: by an attempt, or (verdict None) from there on by a move of the target."""

    session_id: int
    exercise_id: str
    verdict: str | None
    target_pct_mvc: float
    tolerance_pct_mvc: float
    unseen: bool = False


@dataclass(frozen=True, slots=True)
class Reading:
    """What the clocks said at a moment: the wall clock, and for how long the machine had run since which start.

    `moment` is 'open', 'begin', 'beat', 'end' or 'aside'; `session_id` the latest session then; `revision` the order
    that was in force when a damaged journal was set aside. `boot` is '' where only the wall clock is known.
    """

    session_id: int
    moment: str
    wall: datetime
    boot: str = ""
    run_s: float | None = None
    revision: int | None = None


def _unknown() -> tuple[str, float | None]:
    return "", None


def _now() -> datetime:
    return datetime.now(UTC)


class Journal:
    """The record of one patient. Use `Journal.open(path)`, best as a context manager."""

    def __init__(
        self, path: Path, connection: sqlite3.Connection, clock: Clock, machine: Machine, set_aside: Path | None
    ) -> None:
        self.path = path
        self._machine = machine
        self.set_aside = set_aside
        self._db = connection
        self._clock = clock

    @classmethod
    def open(
        cls,
        path: Path | str,
        *,
        clock: Clock = _now,
        machine: Machine | None = None,
        revision: int | None = None,
    ) -> Journal:
        """Open or begin the journal at `path`; a session left open by a crash is closed as interrupted, its reps kept.

        `set_aside` then names the file to which a damaged journal was moved, if there was one. `revision` is the order
        in force, kept beside it. `machine` tells how long the machine has run; the real one does not fit an invented
        clock. Raises JournalError.
        """
        machine = machine or (running_time if clock is _now else _unknown)
        path = Path(path)
        with _sentences(path):
            path.parent.mkdir(parents=True, exist_ok=True)
            set_aside = None
            try:
                connection = _connect(path)
            except _Damaged:
                set_aside = _move_aside(path, clock())
                connection = _connect(path)
            journal = cls(path, connection, clock, machine, set_aside)
            try:
                if set_aside:
                    journal._notice(written(JournalRemark.SET_ASIDE, name=set_aside.name), revision)
                journal._close_interrupted()
                with journal._transaction():
                    journal._read_clocks("open")
            except BaseException:
                connection.close()
                raise
        return journal

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        self._db.close()

    # Writing. Each call is one transaction, on the disk when it returns.

    def begin_session(self, start: SessionStart) -> int:
        """Open a session and return its number."""
        with _sentences(self.path), self._transaction():
            if self._open_sessions():
                raise ValueError("a session is still open; end it first")
            cursor = self._db.execute(
                "INSERT INTO sessions (written_at, body) VALUES (?, ?)", (self._stamp(), canonical(to_plain(start)))
            )
            session_id = int(cursor.lastrowid or 0)
            self._read_clocks("begin", session_id)
            return session_id

    def beat(self, session_id: int) -> None:
        """Write down that an open session goes on, so that its minutes count even if the program is killed."""
        with _sentences(self.path), self._transaction():
            self._read_clocks("beat", session_id)

    def add(self, session_id: int, record: Record) -> None:
        """Write one record of an open session. Raises JournalError if it cannot be made durable."""
        plain = to_plain(record)
        row = (
            session_id,
            self._stamp(),
            NAME_OF[type(record)],
            plain.get("exercise_id"),
            plain.get("verdict"),
            canonical(plain),
        )
        with _sentences(self.path), self._transaction():
            self._db.execute(
                "INSERT INTO records (session_id, written_at, type, exercise_id, verdict, body) VALUES (?,?,?,?,?,?)",
                row,
            )

    def end_session(self, session_id: int, end: SessionEnd) -> None:
        """Close a session and chain it to the one closed before."""
        with _sentences(self.path), self._transaction():
            last = self._db.execute("SELECT hash FROM endings ORDER BY number DESC LIMIT 1").fetchone()
            previous = last[0] if last else FIRST_HASH
            body = canonical(to_plain(end))
            digest = session_hash(self._db, session_id, body, previous)
            self._db.execute(
                "INSERT INTO endings (session_id, written_at, body, previous, hash) VALUES (?,?,?,?,?)",
                (session_id, self._stamp(), body, previous, digest),
            )
            if end.ending != "interrupted":
                self._read_clocks("end", session_id)

    # Reading.

    def sessions(self) -> list[SessionSummary]:
        """Every session, the oldest first."""
        with _sentences(self.path):
            rows = self._db.execute(
                "SELECT s.session_id, s.body, e.body FROM sessions s LEFT JOIN endings e USING (session_id) ORDER BY 1"
            ).fetchall()
            counts = self._db.execute(
                "SELECT session_id, exercise_id, verdict, COUNT(*) FROM records WHERE type = 'rep' GROUP BY 1, 2, 3"
            ).fetchall()
            pains = self._db.execute(
                "SELECT session_id, MAX(json_extract(body, '$.value')) FROM records"
                " WHERE type = 'rating' AND json_extract(body, '$.what') = 'pain' GROUP BY 1"
            ).fetchall()
        counted: dict[int, dict[str, int]] = {}
        attempts: dict[int, dict[str, int]] = {}
        for session_id, exercise_id, verdict, number in counts:
            of_session = attempts.setdefault(session_id, {})
            of_session[exercise_id] = of_session.get(exercise_id, 0) + number
            if verdict == "counted":
                counted.setdefault(session_id, {})[exercise_id] = number
        highest = dict(pains)
        return [
            SessionSummary(
                session_id,
                from_plain(SessionStart, json.loads(start)),
                from_plain(SessionEnd, json.loads(end)) if end else None,
                counted.get(session_id, {}),
                attempts.get(session_id, {}),
                highest.get(session_id),
            )
            for session_id, start, end in rows
        ]

    def records(self, session_id: int, kind: type[OneRecord]) -> list[OneRecord]:
        """The records of one kind in a session, in the order they were written."""
        with _sentences(self.path):
            rows = self._db.execute(
                "SELECT body FROM records WHERE type = ? AND session_id = ? ORDER BY record_id",
                (NAME_OF[kind], session_id),
            ).fetchall()
        return [from_plain(kind, json.loads(body)) for (body,) in rows]

    def counted_reps(self) -> list[tuple[int, str, str]]:
        """Session, workshop and text of every rep that was counted, in the order they were written; see `rep_in`."""
        with _sentences(self.path):
            return self._db.execute(
                "SELECT session_id, json_extract(body, '$.workshop'), body FROM records"
                " WHERE type = 'rep' AND verdict = 'counted' ORDER BY session_id, record_id"
            ).fetchall()

    def records_since(self, session_id: int, kind: type[OneRecord]) -> list[tuple[int, OneRecord]]:
        """The records of one kind with their session, from that session on, in the order they were written."""
        with _sentences(self.path):
            rows = self._db.execute(
                "SELECT session_id, body FROM records WHERE type = ? AND session_id >= ? ORDER BY record_id",
                (NAME_OF[kind], session_id),
            ).fetchall()
        return [(number, from_plain(kind, json.loads(body))) for number, body in rows]

    def asked_in(self, session_ids: Collection[int]) -> list[Asked]:
        """What every attempt of these sessions asked for, and every move of a target, as they were written."""
        with _sentences(self.path):
            rows = self._db.execute(
                "SELECT session_id, exercise_id, verdict,"
                " COALESCE(json_extract(body, '$.target_pct_mvc'), json_extract(body, '$.target_to_pct_mvc')),"
                " COALESCE(json_extract(body, '$.tolerance_pct_mvc'), json_extract(body, '$.tolerance_to_pct_mvc')),"
                " COALESCE(json_extract(body, '$.unseen'), 0) FROM records WHERE type IN ('rep', 'scaling')"
                f" AND session_id IN ({','.join('?' * len(session_ids))}) ORDER BY record_id",
                tuple(session_ids),
            ).fetchall()
        return [Asked(*row) for row in rows]

    def all_records(self, session_id: int) -> list[Record]:
        """Everything written in a session, in order."""
        with _sentences(self.path):
            rows = self._db.execute(
                "SELECT type, body FROM records WHERE session_id = ? ORDER BY record_id", (session_id,)
            ).fetchall()
        return [_any_record(name, json.loads(body)) for name, body in rows]

    def readings(self) -> list[Reading]:
        """What the clocks said, in the order it was written; of a session's beats only the last."""
        with _sentences(self.path):
            rows = self._db.execute(
                "SELECT session_id, moment, written_at, boot, run_s, revision FROM readings WHERE moment != 'beat'"
                " OR reading_id IN (SELECT MAX(reading_id) FROM readings WHERE moment = 'beat' GROUP BY session_id)"
                " ORDER BY reading_id"
            ).fetchall()
        return [Reading(row[0], row[1], datetime.fromisoformat(row[2]), *row[3:]) for row in rows]

    def clocks_now(self) -> Reading:
        """What the clocks say at this moment."""
        return Reading(0, "now", self._clock().astimezone(UTC), *self._machine())

    def notices(self) -> list[str]:
        """What happened to the file itself, such as a damaged predecessor set aside."""
        with _sentences(self.path):
            rows = self._db.execute("SELECT written_at, text FROM notices ORDER BY notice_id").fetchall()
        return [f"{at}: {text}" for at, text in rows]

    def last_hash(self) -> str:
        """The hash of the session closed last, which stands for all before it."""
        with _sentences(self.path):
            row = self._db.execute("SELECT hash FROM endings ORDER BY number DESC LIMIT 1").fetchone()
        return str(row[0]) if row else FIRST_HASH

    def verify(self) -> list[str]:
        """Recompute every hash; one sentence for each session that is not as it was written. Empty means sound."""
        problems = []
        previous = FIRST_HASH
        with _sentences(self.path):
            rows = self._db.execute("SELECT session_id, body, previous, hash FROM endings ORDER BY number").fetchall()
            for session_id, body, claimed, digest in rows:
                if claimed != previous:
                    problems.append(written(JournalRemark.OUT_OF_ORDER, session=session_id))
                if session_hash(self._db, session_id, body, claimed) != digest:
                    problems.append(written(JournalRemark.CHANGED, session=session_id))
                previous = digest
        return problems

    # Inside.

    def _stamp(self) -> str:
        return self._clock().astimezone(UTC).isoformat(timespec="milliseconds")

    def _read_clocks(self, moment: str, session_id: int | None = None, revision: int | None = None) -> None:
        if session_id is None:
            (session_id,) = self._db.execute("SELECT COALESCE(MAX(session_id), 0) FROM sessions").fetchone()
        self._db.execute(
            "INSERT INTO readings (session_id, moment, written_at, boot, run_s, revision) VALUES (?,?,?,?,?,?)",
            (session_id, moment, self._stamp(), *self._machine(), revision),
        )

    def _notice(self, text: str, revision: int | None) -> None:
        with self._transaction():
            self._db.execute("INSERT INTO notices (written_at, text) VALUES (?, ?)", (self._stamp(), text))
            self._read_clocks("aside", revision=revision)

    def _open_sessions(self) -> list[int]:
        rows = self._db.execute(
            "SELECT session_id FROM sessions WHERE session_id NOT IN (SELECT session_id FROM endings) ORDER BY 1"
        )
        return [row[0] for row in rows]

    def _close_interrupted(self) -> None:
        for session_id in self._open_sessions():
            (last,) = self._db.execute(
                "SELECT MAX(written_at) FROM (SELECT written_at FROM records WHERE session_id = ?"
                " UNION ALL SELECT written_at FROM sessions WHERE session_id = ?)",
                (session_id, session_id),
            ).fetchone()
            note = "the program ended without closing the session; every rep written until then is kept"
            self.end_session(session_id, SessionEnd(ended_at=last, ending="interrupted", note=note))

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        self._db.execute("BEGIN IMMEDIATE")
        try:
            yield
            self._db.execute("COMMIT")
        except BaseException:
            if self._db.in_transaction:
                self._db.execute("ROLLBACK")
            raise


def _any_record(name: str, values: dict[str, Any]) -> Record:
    kind: Any = RECORD_NAMES[name]
    record: Record = from_plain(kind, values)
    return record


class _Damaged(Exception):
    """The file is there, but it is no sound journal."""


def _connect(path: Path) -> sqlite3.Connection:
    """Open, lock, check and bring up to date. Raises _Damaged if the content is at fault, sqlite3.Error otherwise."""
    existed = path.exists()
    if existed and path.stat().st_size == 0 and not path.with_name(path.name + "-wal").exists():
        raise _Damaged
    connection = sqlite3.connect(path, timeout=0.2, isolation_level=None, check_same_thread=False)
    try:
        connection.execute("PRAGMA locking_mode = EXCLUSIVE")  # a second program must not write beside this one
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("PRAGMA fullfsync = ON")  # macOS: really to the disk, not to its cache
        connection.execute("PRAGMA recursive_triggers = ON")  # REPLACE must meet the delete trigger too
        connection.execute("BEGIN IMMEDIATE")
        connection.execute("COMMIT")
        if connection.execute("PRAGMA quick_check(1)").fetchone()[0] != "ok":
            raise _Damaged
        bring_up_to_date(connection, existed, path.name)
    except sqlite3.DatabaseError as error:
        connection.close()
        if _is_damage(error):
            raise _Damaged from error
        raise
    except BaseException:
        connection.close()
        raise
    close_files_to_others(path.with_name(path.name + ending) for ending in ("", "-wal", "-shm"))
    if not existed:
        sync_folder(path.parent)
    return connection


def _is_damage(error: sqlite3.DatabaseError) -> bool:
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and code & 0xFF in (sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_CORRUPT)


def _move_aside(path: Path, now: datetime) -> Path:
    """Rename the damaged file and what belongs to it. Nothing is deleted."""
    stamp = now.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")
    number = 0
    while True:
        target = path.with_name(f"{path.name}.damaged-{stamp}{f'-{number}' if number else ''}")
        if not target.exists():
            break
        number += 1
    os.rename(path, target)
    for ending in ("-wal", "-shm"):
        companion = path.with_name(path.name + ending)
        if companion.exists():
            os.rename(companion, target.with_name(target.name + ending))
    sync_folder(path.parent)
    return target


@contextmanager
def _sentences(path: Path) -> Iterator[None]:
    """Say in one clear line what is wrong when the file or the disk refuses."""
    try:
        yield
    except sqlite3.Error as error:
        raise explained(error, path) from error
    except OSError as error:
        reason = error.strerror or str(error)
        raise JournalError(
            say("wrong.journal-cannot-used", name=path.name, reason=reason), say("mend.check-folder-try-again")
        ) from error
