"""After a session the therapist's copy waits in the outbox."""

from __future__ import annotations

from musclewood.games.__main__ import main
from musclewood.profiles.handover.reading import read_handover
from musclewood.profiles.home.homes import Home
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import RepRecord


def play(order, *options: str) -> int:
    return main(["play", str(order), "--source", "simulated:steady", "--offscreen", "--fast", *options])


def test_a_session_leaves_a_hand_over_with_every_attempt(written_order, tmp_path) -> None:
    order = written_order(sets=1, reps=2, hold_s=0.5, rest_s=1.0, trials=1)
    home = Home(tmp_path / "patient")
    assert play(order, "--home", str(home.root)) == 0
    (path,) = home.outbox.iterdir()
    handed = read_handover(path.read_bytes())
    with Journal.open(home.journal_path(handed.prescription.patient)) as journal:
        (session,) = journal.sessions()
        kept = journal.records(session.session_id, RepRecord)
    (handed_session,) = handed.ledger.sessions
    assert [rep.verdict for rep in handed_session.reps] == [rep.verdict for rep in kept]
    assert handed_session.practice and len(kept) >= 2


def test_a_journal_on_its_own_has_no_outbox(written_order, tmp_path) -> None:
    order = written_order(sets=1, reps=1, hold_s=0.5, rest_s=1.0, trials=1)
    assert play(order, "--journal", str(tmp_path / "own" / "journal.sqlite")) == 0
    assert not list(tmp_path.rglob("*.zip"))
