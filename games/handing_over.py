"""What goes back to the therapist after a session: the hand-over, left in the outbox of the home."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from musclewood.games.prescribed import pin_folder
from musclewood.profiles.handover import write_handover
from musclewood.profiles.homes import Home
from musclewood.profiles.journal import Journal
from musclewood.profiles.prescription import Prescription
from musclewood.profiles.trust.senders import SenderFolder, sealer


def hand_over(journal: Journal, prescription: Prescription, home: Home) -> Path:
    """Write the whole journal and its report into the outbox; sealed where the home is paired with a clinic.

    Raises JournalError, TrustError, OSError.
    """
    from musclewood.profiles.report import render_report  # matplotlib takes its time

    now = datetime.now(UTC)
    pins = pin_folder(home)
    paired = pins.load(prescription.patient) is not None
    seal = sealer(prescription.patient, pins, SenderFolder(home.root / "trust"), made=now) if paired else None
    home.create()
    return write_handover(journal, prescription, home.outbox, render_report(journal, prescription), seal=seal, now=now)


@contextmanager
def handing_over(journal: Journal, prescription: Prescription, home: Home | None) -> Iterator[list[Path]]:
    """Hand over on leaving, if a session was begun meanwhile; the path is then in the list.  None has no outbox."""
    before, written = len(journal.sessions()), list[Path]()
    yield written
    if home is not None and len(journal.sessions()) > before:
        written.append(hand_over(journal, prescription, home))
