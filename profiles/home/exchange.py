"""The home side of the exchange: letting prescriptions in, and sending hand-overs, for every patient on this computer.

One computer may serve several patients: each has a prescription, a journal, a clinic and a sender of their own. One
patient may use several computers: each sends under its own key, and the clinic puts them together.
"""

from __future__ import annotations

import tomllib
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import tomli_w
from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.errors import PrescriptionError, StorageError, TrustError
from musclewood.profiles.exchange.admission import (
    Admission,
    Confirm,
    ConfirmUnsigned,
    OpenedPrescription,
    import_prescription,
    nobody,
    open_prescription,
)
from musclewood.profiles.exchange.folder import Fetched, fetch_prescription, send_handovers
from musclewood.profiles.exchange.places import Place, has_password
from musclewood.profiles.home.homes import Home
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.reminders import keep_calendar
from musclewood.profiles.trust.pins import PinFolder
from musclewood.profiles.trust.senders import SenderFolder, sender_words
from musclewood.profiles.trust.signature import LARGEST_BYTES

ADDRESS_NAME = "exchange.toml"


@dataclass(frozen=True)
class Exchanged:
    """What a visit to the exchange folder did: for each patient what was let in, and the hand-overs that were sent."""

    fetched: dict[str, Fetched]
    sent: tuple[str, ...]


def take(
    home: Home,
    content: bytes,
    *,
    today: date,
    confirm: Confirm = nobody,
    confirm_unsigned: ConfirmUnsigned = nobody,
    new_clinic: bool = False,
) -> Admission:
    """Let a prescription file in, for whichever patient it is.

    `confirm` is shown the clinic's words before the clinic is trusted; `confirm_unsigned` what an order holds that
    nobody signed; `new_clinic` also lets another clinic in, once its words are confirmed. Raises TrustError or
    PrescriptionError; nothing has changed then.
    """
    pins = PinFolder(home.trust)
    opened = open_prescription(content, unsigned_allowed=not pins.ever_paired())
    admission = import_prescription(
        content,
        home.prescription_of(opened.prescription.patient),
        pins,
        today=today,
        confirm=confirm,
        confirm_unsigned=confirm_unsigned,
        meant=agreed(home, content, opened),
        new_clinic=new_clinic,
        opened=opened,
    )
    _remember_revision(home, admission)
    _withdraw_from_former_clinic(home, admission)
    return admission


def agreed(home: Home, content: bytes, opened: OpenedPrescription) -> bool:
    """Whether an order is signed, or somebody here said yes to this very file: it was let in,
    and kept as its revision."""
    kept = home.revision_path(opened.prescription.patient, opened.prescription.revision)
    return opened.clinic is not None or (kept.is_file() and read_bounded(kept, LARGEST_BYTES) == content)


def visit(
    home: Home,
    place: Place,
    *,
    today: date,
    patient: str | None = None,
    confirm: Confirm = nobody,
    new_clinic: bool = False,
) -> Exchanged:
    """Fetch the newest prescription of each patient here (or of `patient` alone), and send every hand-over that waits.

    Raises StorageError, PinError.
    """
    pins = PinFolder(home.trust)
    fetched: dict[str, Fetched] = {}
    for code in [patient] if patient else home.patients():
        looked = fetch_prescription(
            place, code, home.prescription_of(code), pins, today=today, confirm=confirm, new_clinic=new_clinic
        )
        if looked.admission is not None:
            _remember_revision(home, looked.admission)
            _withdraw_from_former_clinic(home, looked.admission)
        fetched[code] = looked
    return Exchanged(fetched, tuple(send_handovers(home.outbox, place)))


def earlier_orders(home: Home, prescription: Prescription) -> list[Prescription]:
    """Every revision that was in force here before, the oldest first; one that cannot be read is left out."""
    orders = []
    for path in sorted(home.revisions.glob(f"{prescription.patient}-*.toml")) if home.revisions.is_dir() else ():
        try:
            opened = open_prescription(read_bounded(path, LARGEST_BYTES), unsigned_allowed=True).prescription
        except (TrustError, PrescriptionError):
            continue
        if opened.patient == prescription.patient and opened.revision != prescription.revision:
            orders.append(opened)
    return sorted(orders, key=lambda order: (order.issued, order.revision))


def computer_words(home: Home, patient: str) -> tuple[str, ...]:
    """The words by which the clinic recognises this computer when it sends for the first time. Raises SenderError."""
    return sender_words(SenderFolder(home.trust).load(patient).public)


def remembered_address(home: Home) -> str:
    """The exchange folder of the last visit; '' when there was none."""
    try:
        return str(tomllib.loads(read_bounded(home.trust / ADDRESS_NAME, 10_000).decode("utf-8"))["exchange"])
    except (TrustError, ValueError, KeyError):
        return ""


def remember_address(home: Home, address: str) -> None:
    """For the next visit; an address with a password in it is not kept. Raises StorageError."""
    if address != remembered_address(home) and not has_password(address):
        write_whole(home.trust / ADDRESS_NAME, tomli_w.dumps({"exchange": address}).encode())


def _withdraw_from_former_clinic(home: Home, admission: Admission) -> None:
    """What waits was sealed to a key that is no longer this patient's clinic's: the next
    hand-over holds it all anew."""
    if admission.standing == "new clinic":
        for waiting in home.outbox.glob(f"musclewood-{admission.prescription.patient}-*.sealed"):
            with suppress(OSError):  # a sync tool may hold it open; whoever gets it cannot open it
                waiting.unlink()


def _remember_revision(home: Home, admission: Admission) -> None:
    """Keep the file under its own revision too, so that the past is compared with what was ordered then.

    The calendar beside the prescription follows it.
    """
    prescription = admission.prescription
    kept = home.revision_path(prescription.patient, prescription.revision)
    source: Path = home.prescription_of(prescription.patient)
    content = read_bounded(source, LARGEST_BYTES)
    if not kept.exists() or kept.read_bytes() != content:
        write_whole(kept, content)
    with suppress(StorageError, OSError):  # a calendar that cannot be written must not cost the prescription
        keep_calendar(prescription, source)
