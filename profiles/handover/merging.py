"""One patient's hand-overs from several computers, as one record in which nothing is counted twice.

Every hand-over holds its computer's whole journal, so most sessions are in many of them, and two computers may hold the
same session too, when one was set up from a backup of the other. A session is known by its start on its sensor, and the
fuller copy is taken.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from hashlib import sha256

from musclewood.profiles.journal.ledger import Ledger, LedgerSession


def merged(ledgers: Sequence[Ledger]) -> Ledger:
    """All sessions, the oldest first, numbered anew from 1 where there is more than one ledger."""
    if len(ledgers) == 1:
        return ledgers[0]
    chosen: dict[tuple[str, ...], LedgerSession] = {}
    for ledger in ledgers:
        for session in ledger.sessions:
            same = chosen.get(_identity(session))
            if same is None or _fullness(session) > _fullness(same):
                chosen[_identity(session)] = session
    in_order = sorted(chosen.values(), key=lambda session: session.started)
    sessions = tuple(replace(session, session_id=number) for number, session in enumerate(in_order, start=1))
    seal = sha256("".join(sorted(ledger.journal_hash for ledger in ledgers)).encode()).hexdigest() if ledgers else ""
    return Ledger(
        sessions,
        seal,
        _each_once(problem for ledger in ledgers for problem in ledger.problems),
        _each_once(notice for ledger in ledgers for notice in ledger.notices),
    )


def contains(newer: Ledger, older: Ledger) -> bool:
    """Whether every session of `older` is in `newer`, no shorter than it was."""
    known = {_identity(session): _fullness(session) for session in newer.sessions}
    return all(known.get(_identity(session), (-1, False)) >= _fullness(session) for session in older.sessions)


def _identity(session: LedgerSession) -> tuple[str, ...]:
    start = session.start
    return (start.started_at, start.source, start.sensor, str(start.revision))


def _fullness(session: LedgerSession) -> tuple[int, bool]:
    return (len(session.records), session.end is not None)


def _each_once(sentences: Iterable[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(sentences))
