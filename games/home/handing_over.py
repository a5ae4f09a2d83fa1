"""What goes back to the therapist after a session: the hand-over, left in the outbox of the home."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path

from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.exchange.admission import open_prescription
from musclewood.profiles.handover.package import write_handover
from musclewood.profiles.home.exchange import computer_words, earlier_orders
from musclewood.profiles.home.homes import Home
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.trust.pins import PinFolder
from musclewood.profiles.trust.senders import SenderFolder, sealer
from musclewood.profiles.trust.signature import LARGEST_BYTES

REPORT_NAME = "report.html"


def hand_over(journal: Journal, prescription: Prescription, home: Home) -> Path:
    """Write the whole journal and its report into the outbox; sealed where the home is paired with a clinic.

    Every hand-over holds the whole journal, so those that it replaces leave the outbox; what was already copied from
    there stays where it is. Raises JournalError, TrustError, OSError.
    """
    from musclewood.profiles.report.page import render_report  # matplotlib takes its time

    now = datetime.now(UTC)
    pins = PinFolder(home.trust)
    paired = pins.load(prescription.patient) is not None
    seal = sealer(prescription.patient, pins, SenderFolder(home.trust), made=now) if paired else None
    home.create()
    replaced = list(home.outbox.glob(f"musclewood-{prescription.patient}-*.zip*"))
    earlier = earlier_orders(home, prescription)
    page = render_report(journal, prescription, revisions=earlier)
    path = write_handover(journal, prescription, home.outbox, page, seal=seal, now=now, revisions=earlier)
    for old in replaced:
        if old != path and (old.suffix == ".sealed") == paired:
            with suppress(OSError):  # a sync tool may hold it open; the next hand-over tries again
                old.unlink()
    return path


def send_anew(home: Home, patient: str) -> tuple[str, ...]:
    """Send as a new computer from now on, all of the journal once more; gives the words that the clinic will ask for.

    For a computer that was set back to a backup: its old numbers were used before. Raises TrustError, JournalError.
    """
    SenderFolder(home.trust).renew(patient)
    pack_anew(home, patient)
    return computer_words(home, patient)


def pack_anew(home: Home, patient: str) -> None:
    """Put all of a patient's journal, if there is one, into the outbox once more. Raises TrustError, JournalError."""
    if home.journal_path(patient).exists():
        prescription = open_prescription(
            read_bounded(home.prescription_of(patient), LARGEST_BYTES), unsigned_allowed=True
        ).prescription
        with Journal.open(home.journal_path(patient)) as journal:
            hand_over(journal, prescription, home)


class Packing:
    """Keeps the outbox up with the journal. `written` are the hand-overs that were made;
    without a home there are none."""

    def __init__(self, journal: Journal, prescription: Prescription, home: Home | None) -> None:
        self._journal, self._prescription, self._home = journal, prescription, home
        code = prescription.patient
        # Where nothing lies in the outbox, as after another clinic was paired, all of the journal is still to go.
        kept = home is None or any(home.outbox.glob(f"musclewood-{code}-*.zip*"))
        self._packed = len(journal.sessions()) if kept else 0
        self.written: list[Path] = []

    @property
    def pending(self) -> bool:
        """Whether something was done since the last time."""
        return self._home is not None and len(self._journal.sessions()) > self._packed

    def report(self) -> Path:
        """The patient's own report of everything until now, as the clinic sees it. Raises
        JournalError, StorageError."""
        from musclewood.profiles.report.page import render_report  # matplotlib takes its time

        home = self._home or Home.find()
        page = render_report(self._journal, self._prescription, revisions=earlier_orders(home, self._prescription))
        path = home.root / REPORT_NAME
        write_whole(path, page.encode("utf-8"))
        return path

    def __call__(self) -> None:
        """Hand over, if a session was begun since the last time. Raises JournalError, TrustError, OSError."""
        done = len(self._journal.sessions())
        if self._home is not None and done > self._packed:
            self.written.append(hand_over(self._journal, self._prescription, self._home))
            self._packed = done


@contextmanager
def handing_over(journal: Journal, prescription: Prescription, home: Home | None) -> Iterator[Packing]:
    """Hand over on leaving whatever was not handed over before."""
    packing = Packing(journal, prescription, home)
    yield packing
    packing()
