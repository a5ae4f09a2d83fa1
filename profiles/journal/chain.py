"""The hash that ties every closed session to the one before."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from typing import Any

FIRST_HASH = "0" * 64


def canonical(plain: dict[str, Any]) -> str:
    """The one way in which a record is written: JSON, keys sorted, no spare blanks."""
    return json.dumps(plain, ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":"))


def session_hash(db: sqlite3.Connection, session_id: int, end_body: str, previous: str) -> str:
    """SHA-256 over the hash before, the session's start, each record in order with its columns
    and time, and its end."""
    digest = hashlib.sha256()

    def take(*parts: object) -> None:
        line = json.dumps(parts, ensure_ascii=False, separators=(",", ":"))
        digest.update(line.encode("utf-8") + b"\n")

    take("previous", previous)
    for row in db.execute("SELECT session_id, written_at, body FROM sessions WHERE session_id = ?", (session_id,)):
        take("session", *row)
    rows = db.execute(
        "SELECT record_id, written_at, type, exercise_id, verdict, body FROM records"
        " WHERE session_id = ? ORDER BY record_id",
        (session_id,),
    )
    for row in rows:
        take("record", *row)
    take("end", end_body)
    return digest.hexdigest()
