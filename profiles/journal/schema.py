"""The journal's tables and triggers, and the way from older versions to this one."""

from __future__ import annotations

import sqlite3
from pathlib import Path

from musclewood.assets.saying import say
from musclewood.profiles.errors import JournalError

APPLICATION_ID = 0x4D574A31  # "MWJ1", so that a file of another program is never taken for a journal


def _append_only(table: str, key: str) -> str:
    return f"""
    CREATE TRIGGER {table}_keep_update BEFORE UPDATE ON {table}
        BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END;
    CREATE TRIGGER {table}_keep_delete BEFORE DELETE ON {table}
        BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END;
    CREATE TRIGGER {table}_keep_replace BEFORE INSERT ON {table}
        WHEN EXISTS (SELECT 1 FROM {table} WHERE {key} = NEW.{key})
        BEGIN SELECT RAISE(ABORT, 'the journal is append-only'); END;
    """


_FIRST = f"""
    CREATE TABLE sessions (session_id INTEGER PRIMARY KEY, written_at TEXT NOT NULL, body TEXT NOT NULL);
    CREATE TABLE records (
        record_id INTEGER PRIMARY KEY,
        session_id INTEGER NOT NULL REFERENCES sessions,
        written_at TEXT NOT NULL,
        type TEXT NOT NULL,
        exercise_id TEXT,
        verdict TEXT,
        body TEXT NOT NULL
    );
    CREATE TABLE endings (
        number INTEGER PRIMARY KEY,
        session_id INTEGER NOT NULL UNIQUE REFERENCES sessions,
        written_at TEXT NOT NULL,
        body TEXT NOT NULL,
        previous TEXT NOT NULL,
        hash TEXT NOT NULL
    );
    CREATE TABLE notices (notice_id INTEGER PRIMARY KEY, written_at TEXT NOT NULL, text TEXT NOT NULL);
    {_append_only("sessions", "session_id")}
    {_append_only("records", "record_id")}
    {_append_only("endings", "session_id")}
    {_append_only("notices", "notice_id")}
    CREATE TRIGGER records_need_an_open_session BEFORE INSERT ON records
        WHEN NOT EXISTS (SELECT 1 FROM sessions WHERE session_id = NEW.session_id)
          OR EXISTS (SELECT 1 FROM endings WHERE session_id = NEW.session_id)
        BEGIN SELECT RAISE(ABORT, 'the session is not open'); END;
    CREATE TRIGGER endings_need_a_session BEFORE INSERT ON endings
        WHEN NOT EXISTS (SELECT 1 FROM sessions WHERE session_id = NEW.session_id)
        BEGIN SELECT RAISE(ABORT, 'there is no such session'); END;
"""
# Counting reps for Today must not read the reps themselves, which hold their whole effort profile; hashing and reading
# one session must not walk through all.
_SECOND = """
    CREATE INDEX records_for_counting ON records (type, session_id, exercise_id, verdict);
    CREATE INDEX records_by_session ON records (session_id);
"""

# What the clocks said when the file was opened, when a session began, went on and ended, and when a damaged journal was
# set aside: the wall clock, and how long the machine had run since which start. `session_id` is the latest session
# then.
_THIRD = f"""
    CREATE TABLE readings (
        reading_id INTEGER PRIMARY KEY,
        session_id INTEGER NOT NULL,
        moment TEXT NOT NULL,
        written_at TEXT NOT NULL,
        boot TEXT NOT NULL,
        run_s REAL,
        revision INTEGER
    );
    CREATE INDEX readings_by_moment ON readings (moment, session_id);
    {_append_only("readings", "reading_id")}
"""

# Each script leads from one version to the next; `PRAGMA user_version` says how many were run. Never edit one that
# was released: add another.
MIGRATIONS: tuple[str, ...] = (_FIRST, _SECOND, _THIRD)


def bring_up_to_date(connection: sqlite3.Connection, existed: bool, name: str) -> None:
    """Run the migrations that are missing, each in one transaction. Raises JournalError for a
    file of another origin."""
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    (application,) = connection.execute("PRAGMA application_id").fetchone()
    (tables,) = connection.execute("SELECT COUNT(*) FROM sqlite_master").fetchone()
    if existed and tables and application != APPLICATION_ID:
        raise JournalError(say("wrong.database-another-program", name=name), say("mend.choose-another-file"))
    if version > len(MIGRATIONS):
        raise JournalError(say("wrong.journal-written-newer-musclewood", name=name), say("mend.update-program"))
    for number in range(version, len(MIGRATIONS)):
        connection.executescript(
            f"BEGIN; {MIGRATIONS[number]} PRAGMA application_id = {APPLICATION_ID};"
            f" PRAGMA user_version = {number + 1}; COMMIT;"
        )


def explained(error: sqlite3.Error, path: Path) -> JournalError:
    """One clear line for what SQLite complains about."""
    code = getattr(error, "sqlite_errorcode", 0) or 0
    key = _EXPLAINED.get(code & 0xFF, "refuses")
    values = {"reason": str(error)} if key == "refuses" else {}
    return JournalError(say(f"wrong.journal-{key}", name=path.name, **values), say(f"mend.journal-{key}"))


# What the codes of SQLite mean, by what can be done about it.
_EXPLAINED = {
    sqlite3.SQLITE_BUSY: "busy",
    sqlite3.SQLITE_LOCKED: "busy",
    sqlite3.SQLITE_FULL: "full",
    sqlite3.SQLITE_READONLY: "read-only",
    sqlite3.SQLITE_CANTOPEN: "closed",
    sqlite3.SQLITE_IOERR: "disk",
    sqlite3.SQLITE_CORRUPT: "damaged",
}
