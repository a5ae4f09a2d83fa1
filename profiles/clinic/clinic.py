"""The desk's folder: the clinic's key, what was issued to whom, and what came back.

    clinic-key.toml          the private key, locked with the clinic's passphrase
    earlier-keys/            keys that the clinic changed, and the lines by which they vouch for what came after
    desk.toml                the clinic's name, and where its exchange folder lies
    orders/                  every revision that was issued, signed, as it left
    handovers/               every hand-over that was opened, as the zip that was under its seal
    set-aside/               hand-overs that came well sealed and cannot be read; received.json says why
    received.json            which computers were accepted, which hand-overs were received
    expected.json            which computers were compared with the patient in the room
    visits/                  tests, absence, discharge, who signed what: a file an entry, appended, never overwritten
    summaries/, reports/     made from the two folders, and made again when they are missing

Patients are known by their codes. There is no place for a name.
"""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path

from musclewood.assets.saying import say
from musclewood.profiles.caseload.attention import PatientSummary, summary
from musclewood.profiles.caseload.summary import Facts
from musclewood.profiles.clinic import drafts as clinic_drafts
from musclewood.profiles.clinic.expected import ExpectedComputers
from musclewood.profiles.clinic.keyring import Keyring
from musclewood.profiles.clinic.records import OrderFiles, Received, presentable, read_merged, read_orders
from musclewood.profiles.clinic.settings import DeskSettings, load_settings, save_settings
from musclewood.profiles.clinic.summaries import Summaries
from musclewood.profiles.clinic_code import clinic_code_problem
from musclewood.profiles.disk.files import PUBLIC, close_to_others, sweep, write_whole
from musclewood.profiles.disk.locking import locked
from musclewood.profiles.errors import (
    ClinicError,
    Fault,
    LedgerError,
    PrescriptionError,
    RevisionConflictError,
    StorageError,
)
from musclewood.profiles.exchange.admission import open_prescription
from musclewood.profiles.exchange.folder import (
    SIGNED_SUFFIX,
    Collected,
    begin_exchange,
    collect_handovers,
    highest_issued,
    issue,
    issued_elsewhere,
)
from musclewood.profiles.exchange.places import LocalPlace, Place, open_place
from musclewood.profiles.exchange.received import Receipt, ReceivedLedger, load_ledger, save_ledger
from musclewood.profiles.exchange.reception import ConfirmSender, no_new_sender
from musclewood.profiles.handover.reading import one_clear_line
from musclewood.profiles.home.homes import Home
from musclewood.profiles.journal.ledger import Ledger
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.prescription import Prescription, dump
from musclewood.profiles.trust.key_file import MODERATE, Hardness
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.senders import handover_name
from musclewood.profiles.trust.words import to_words
from musclewood.profiles.visits.book import VisitBook
from musclewood.profiles.visits.entries import Signed, initials_problem
from musclewood.profiles.visits.standing import Standing

VARIABLE = "MUSCLEWOOD_DESK"
STICK_FOLDER = "musclewood"  # the exchange folder that the desk makes on a memory stick


@dataclass(frozen=True)
class Issued:
    """A revision that was signed. `trouble` says in one sentence why it is not in the exchange folder yet."""

    prescription: Prescription
    path: Path
    delivered: bool
    trouble: str | None = None


@dataclass(frozen=True)
class Arrival:
    """A hand-over that the therapist is to be told of. late: a later one of the same computer is here already; again: a
    run that was cut off may have told of it."""

    receipt: Receipt
    path: Path
    late: bool
    again: bool


class Clinic:
    """Everything that the desk does, without a window."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self.keyring = Keyring(root)
        self.key_path = self.keyring.path
        self._settings_path = root / "desk.toml"
        self._receipts = root / "received.json"
        self._orders = OrderFiles(root / "orders")
        self._received = Received(root / "handovers")
        self._summaries = Summaries(root / "summaries")
        self.visits = VisitBook(root / "visits")
        self.expected = ExpectedComputers(root / "expected.json")

    @classmethod
    def find(cls) -> Clinic:
        """The folder named by MUSCLEWOOD_DESK, else `desk` in the usual place for this program's data."""
        chosen = os.environ.get(VARIABLE, "").strip()
        return cls(Path(chosen).expanduser() if chosen else Home.find().root / "desk")

    def start(self) -> None:
        """What every start does first: remove what killed writes left, and close the folders to other users."""
        own = [
            self.root,
            *(
                self.root / name
                for name in ("orders", "handovers", "set-aside", "summaries", "reports", "earlier-keys", "visits")
            ),
        ]
        close_to_others(own[1:])
        sweep(own)

    # The key

    @property
    def has_key(self) -> bool:
        return bool(self.keyring)

    def words(self) -> tuple[str, ...]:
        """The clinic's fingerprint as words, for which no passphrase is needed; none without a key.

        Raises KeyFileError, StorageError.
        """
        return to_words(self.keyring.identity.fingerprint) if self.has_key else ()

    def make_key(self, passphrase: str, hardness: Hardness = MODERATE) -> ClinicKeys:
        """A new key pair. Takes about a second. Raises PassphraseError, KeyFileError, StorageError."""
        return self.keyring.make(passphrase, hardness, self.settings.language)

    def unlock(self, passphrase: str) -> ClinicKeys:
        """The private key, for as long as somebody works. Takes about a second. Raises as `make_key` does."""
        return self.keyring.unlock(passphrase)

    def change_key(self, passphrase: str, hardness: Hardness = MODERATE) -> ClinicKeys:
        """A new key that the old one vouches for; the old one stays, to open what was sealed to it. One passphrase
        locks
        them all. Raises as `make_key` does."""
        return self.keyring.change(passphrase, hardness, self.settings.language)

    def take_keys(self, backup: Path, passphrase: str) -> None:
        """The keys of the clinic's other desk, from its backup, opened with the backup's passphrase. Raises
        BackupError,
        PassphraseError, KeyFileError, StorageError."""
        self.keyring.take(backup, passphrase)

    def relock(self, old: str, new: str, hardness: Hardness = MODERATE) -> None:
        """Another passphrase for the same key. Raises as `make_key` does; the old file stays until the new one is
        whole."""
        self.keyring.relock(old, new, hardness, self.settings.language)

    # Settings

    @property
    def settings(self) -> DeskSettings:
        """Raises StorageError."""
        return load_settings(self._settings_path)

    def save_settings(self, settings: DeskSettings) -> None:
        """Raises StorageError."""
        save_settings(settings, self._settings_path)

    def place(self) -> Place:
        """The exchange folder. Raises StorageError, also when none was named yet."""
        address = self.settings.exchange
        if not address:
            raise StorageError(say("wrong.no-exchange-folder-set"), say("mend.name-folder-sync-tool"))
        return open_place(address)

    # Who is there

    def patients(self, today: date, *, discharged: bool = False) -> list[PatientSummary]:
        """Every patient at a glance, the most urgent first; those who were discharged only if asked for."""
        orders, handovers, visits = self._orders.by_patient(), self._received.by_patient(), self.visits.by_patient()
        aside, settings = self._set_aside(), self.settings
        rows = []
        for code in sorted({*orders, *handovers, *aside, *visits}):
            standing, fault = self._standing(visits.get(code, ()))
            if standing.discharge is None or discharged:
                facts = self._summaries.facts(code, orders.get(code, ()), handovers.get(code, ()))
                rows.append(_row(replace(facts, set_aside=aside.get(code, "")), standing, fault, today, settings))
        return sorted(rows, key=lambda row: (row.urgency, row.patient))

    def patient(self, code: str, today: date) -> PatientSummary:
        """Raises KeyError for a patient that there is nothing of."""
        orders, handovers = self._orders.by_patient().get(code, ()), self._received.by_patient().get(code, ())
        aside, visits = self._set_aside(), self.visits.by_patient().get(code, ())
        if not (orders or handovers or visits or code in aside):
            raise KeyError(code)
        standing, fault = self._standing(visits)
        facts = self._summaries.facts(code, orders, handovers)
        return _row(replace(facts, set_aside=aside.get(code, "")), standing, fault, today, self.settings)

    def _standing(self, paths: tuple[Path, ...]) -> tuple[Standing, str]:
        """Who cannot be read is not away, and says so."""
        try:
            return self.visits.standing(paths), ""
        except StorageError as error:
            return Standing(), error.args[0]

    def _set_aside(self) -> dict[str, str]:
        """Whose last hand-over was set aside, and why. A list of receipts that is damaged shows when collecting."""
        try:
            return load_ledger(self._receipts).set_aside()
        except LedgerError:
            return {}

    def orders(self, code: str) -> tuple[Prescription, ...]:
        """Every revision that was issued, the oldest first."""
        return read_orders(self._orders.by_patient().get(code, ()))

    def done(self, code: str, *, efforts: bool = False) -> Ledger:
        """All that was handed over from all computers of a patient, nothing twice. Raises HandoverError.

        `efforts`: also the course of effort in each repetition.
        """
        return read_merged(self._received.by_patient().get(code, ()), efforts=efforts)[0]

    def state(self) -> tuple[int, ...]:
        """Changes whenever something was issued, received, noted or set, by whatever program."""
        folders = (self._orders.folder, self._received.folder, self.visits.folder)
        watched = (*folders, self._receipts, self._settings_path, self.key_path)
        return tuple(path.stat().st_mtime_ns if path.exists() else 0 for path in watched)

    # Prescribing

    def draft_from_template(self, name: str, patient: str, today: date) -> Draft:
        """Raises KeyError for a template that there is none of."""
        self._catch_up(patient)
        return clinic_drafts.from_template(name, patient, self.orders(patient), self.settings, today)

    def draft_from_last(self, patient: str, today: date) -> Draft:
        """Raises ClinicError when nothing was issued to this patient yet."""
        self._catch_up(patient)
        orders = self.orders(patient)
        if not orders:
            raise ClinicError(say("wrong.nothing-issued-yet", patient=patient), say("mend.start-template"))
        return clinic_drafts.from_last(orders, self.settings, today)

    def issue(
        self,
        draft: Draft,
        keys: ClinicKeys,
        acknowledged: Collection[str] = (),
        *,
        by: str = "",
        at: datetime | None = None,
    ) -> Issued:
        """Check, number, sign and keep an order, and put it into the exchange folder.

        `acknowledged` are the concerns (their ids) that whoever signs has seen and means; one that is left is a fault.
        `by` are the initials of whoever signs, `at` when. What is signed is kept even when the exchange folder cannot
        be reached; `deliver` puts it there later. Raises PrescriptionError for a draft with faults,
        RevisionConflictError, StorageError.
        """
        order = draft.prescription
        if order is None:
            raise PrescriptionError(draft.faults)
        if problem := initials_problem(by):
            raise ClinicError(problem, say("mend.use-two-four-capital"))
        self._catch_up(order.patient)
        concerns = draft.concerns()
        if unseen := [one for one in concerns if one.id not in acknowledged]:
            raise PrescriptionError([Fault("acknowledged", one.sentence(), say("mend.acknowledge")) for one in unseen])
        order = order.model_copy(update={"acknowledged": tuple(one.id for one in concerns) or None})
        with locked(self._orders.folder):
            self._refuse_overtaken(draft, order.patient)
            revision = self._next_revision(order.patient, keys)
            prescription = clinic_drafts.described(order.model_copy(update={"revision": revision}))
            path = self._orders.keep(prescription, self.keyring.sign(dump(prescription).encode(), keys))
        try:
            issue(self.place(), path.read_bytes(), own=self.keyring.identities)
        except RevisionConflictError:
            path.unlink()  # another desk was faster; nobody has seen this one
            raise
        except StorageError as error:
            issued = Issued(prescription, path, False, error.args[0])
        else:
            issued = Issued(prescription, path, True)
        signed = Signed(revision=revision, acknowledged=prescription.acknowledged or ())
        try:
            self.visits.add(order.patient, signed, at or datetime.now().astimezone(), by)
        except StorageError as error:  # it is signed all the same, and the order itself says when
            return replace(issued, trouble=issued.trouble or error.args[0])
        return issued

    def deliver(self) -> list[str]:
        """Put everything that was issued and is not there yet into the exchange folder; gives the names put down.

        Only each patient's newest revision matters to the home side, and only it is carried. Raises StorageError,
        RevisionConflictError.
        """
        place = self.place()
        return [
            name
            for paths in self._orders.by_patient().values()
            if (name := issue(place, paths[-1].read_bytes(), own=self.keyring.identities, quiet_if_there=True))
        ]

    def carry(self, issued: Issued, stick: Path) -> Path:
        """Put an order onto a memory stick: as a letter that is found at once, and into an exchange folder that brings
        back what is done. Gives the letter's path. Where no exchange folder was named yet, this one is it from now on.

        Raises StorageError, RevisionConflictError.
        """
        content, exchange = issued.path.read_bytes(), stick / STICK_FOLDER
        issue(begin_exchange(exchange), content, own=self.keyring.identities)
        letter = stick / f"{issued.prescription.patient}-{issued.prescription.revision:04d}{SIGNED_SUFFIX}"
        write_whole(letter, content, mode=PUBLIC)
        if not self.settings.exchange:
            self.save_settings(self.settings.model_copy(update={"exchange": str(exchange)}))
            self.deliver()
        return letter

    def _next_revision(self, patient: str, keys: ClinicKeys) -> int:
        """Above everything issued here, and above what another desk of this clinic put into the exchange folder."""
        last = self._orders.last_revision(patient)
        try:
            return 1 + max(last, highest_issued(self.place(), patient, {keys.identity, *self.keyring.identities}))
        except StorageError:
            return 1 + last

    def _refuse_overtaken(self, draft: Draft, patient: str) -> None:
        """A draft that began before another desk issued something must not undo that unseen."""
        newest, began = self._orders.last_revision(patient), draft.previous.revision if draft.previous else 0
        if began < newest:
            problem = say("wrong.revision-issued-meanwhile-another", newest=newest, patient=patient)
            raise RevisionConflictError(problem, say("mend.begin-look-what-would"))

    def _catch_up(self, patient: str) -> None:
        """Keep what another desk of this clinic issued, so that whoever orders next goes on
        from the newest of either."""
        if not self.has_key or clinic_code_problem(patient):
            return
        with suppress(StorageError):  # without the exchange folder, what is known here has to do
            place, last = self.place(), self._orders.last_revision(patient)
            for content in issued_elsewhere(place, patient, self.keyring.identities, last):
                self._orders.keep(open_prescription(content).prescription, content)

    # What comes back

    def collect(
        self,
        keys: ClinicKeys,
        today: date,
        confirm: ConfirmSender = no_new_sender,
        besides: Sequence[Path] = (),
    ) -> Collected:
        """Open every new hand-over in the exchange folder, and in those `besides` that sticks brought; `naming` then
        says what arrived.

        One that cannot be read is put into `set-aside/` and noted. Raises StorageError, LedgerError.
        """
        each = [
            collect_handovers(
                place,
                self._received.folder,
                self._receipts,
                keys,
                today=today,
                confirm=self.expected.or_ask(confirm),
                look=presentable,
                aside=self.root / "set-aside",
            )
            for place in (self.place(), *(LocalPlace(folder) for folder in besides))
        ]
        collected = Collected(
            tuple(one for found in each for one in found.received),
            tuple(one for found in each for one in found.refused),
        )
        codes = sorted({reception.header.patient for reception, _ in collected.received})
        for code in codes:
            self._received.tidy(code)
        orders, handovers = self._orders.by_patient(), self._received.by_patient()
        for code in codes:
            self._summaries.facts(code, orders.get(code, ()), handovers.get(code, ()))
        return collected

    @contextmanager
    def naming(self) -> Iterator[tuple[Arrival, ...]]:
        """What arrived and was not named to the therapist yet, to be said inside this block.

        A run that is cut off inside may have said it or not, so the next one says it again and says that it does.
        Raises StorageError, LedgerError.
        """
        arrivals = self.to_be_named()
        yield arrivals
        self.named(arrivals)

    def to_be_named(self) -> tuple[Arrival, ...]:
        """For a window, which says it over many pictures: the first half of `naming`. Raises as that does."""
        with locked(self._receipts):
            ledger = load_ledger(self._receipts)
            if unnamed := ledger.unnamed():
                save_ledger(ledger.naming_begun(), self._receipts)
        return tuple(self._arrival(ledger, receipt) for receipt in unnamed)

    def named(self, arrivals: Sequence[Arrival]) -> None:
        """The second half: these were seen by somebody."""
        if arrivals:
            with locked(self._receipts):
                marks = {arrival.receipt.mark for arrival in arrivals}
                save_ledger(load_ledger(self._receipts).named(marks), self._receipts)

    def _arrival(self, ledger: ReceivedLedger, receipt: Receipt) -> Arrival:
        name = handover_name(receipt.patient, bytes.fromhex(receipt.sender), receipt.sequence)
        folder = self.root / "set-aside" if receipt.fault else self._received.folder
        again = receipt.named == "begun"
        return Arrival(receipt, folder / f"{name}.zip", late=ledger.came_late(receipt), again=again)

    def write_report(self, code: str, now: datetime) -> Path:
        """The report of everything handed over, beside the other reports. Raises HandoverError, StorageError."""
        from musclewood.profiles.report.page import render_report  # matplotlib takes its time

        ledger, newest, _ = read_merged(self._received.by_patient().get(code, ()))
        orders = self.orders(code) or ((newest.prescription,) if newest else ())
        if not orders:
            raise ClinicError(say("wrong.nothing-known", code=code), say("mend.check-code"))
        until = datetime.fromisoformat(newest.created) if newest else None
        with one_clear_line():
            visits = self.visits.entries(code)
            page = render_report(ledger, orders[-1], revisions=orders[:-1], now=now, until=until, visits=visits)
        path = self.root / "reports" / f"{code}.html"
        write_whole(path, page.encode())
        return path


def _row(facts: Facts, standing: Standing, fault: str, today: date, settings: DeskSettings) -> PatientSummary:
    now = replace(facts, unreadable=facts.unreadable or fault, away=standing.away)
    return summary(now, today, silent_days=settings.silent_days, review_days_ahead=settings.review_days_ahead)
