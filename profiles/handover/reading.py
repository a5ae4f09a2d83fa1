"""Reading a hand-over on the therapist's side."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass

from musclewood.profiles.errors import ArchiveError, HandoverError, PrescriptionError
from musclewood.profiles.handover.columns import NAMES
from musclewood.profiles.handover.package import EARLIER
from musclewood.profiles.handover.tables import sessions_from_csv
from musclewood.profiles.journal.ledger import Ledger
from musclewood.profiles.orders.prescription import Prescription, parse
from musclewood.profiles.trust.archive import read_archive


@dataclass(frozen=True)
class Handover:
    """What came back: the order as it was, everything done, and the report as the patient's side made it."""

    prescription: Prescription
    ledger: Ledger
    created: str
    report_html: str | None
    earlier_orders: tuple[Prescription, ...] = ()

    @property
    def orders(self) -> tuple[Prescription, ...]:
        """Every revision that was in force, the oldest first."""
        return (*self.earlier_orders, self.prescription)


def read_handover(content: bytes) -> Handover:
    """Unpack and check a hand-over that is not sealed, or was opened. Raises HandoverError in one clear line."""
    files = _unpacked(content)
    try:
        package = json.loads(files["datapackage.json"])
        for resource in package["resources"]:
            digest = hashlib.sha256(files[resource["path"]]).hexdigest()
            if resource["hash"] != f"sha256:{digest}":
                raise HandoverError(f"{resource['path']} is not as it was written")
        ours = package["musclewood"]
        if ours["format"] != "musclewood-handover/1":
            raise HandoverError(f"the format {ours['format']!r} is not known", "update this program")
        sessions = sessions_from_csv({name: files[f"{name}.csv"] for name in NAMES})
        ledger = Ledger(sessions, ours["journal_hash"], tuple(ours["journal_problems"]), tuple(ours["journal_notices"]))
        prescription = parse(files["prescription.toml"].decode("utf-8"))
        report = files.get("report.html")
        earlier = [parse(files[name].decode("utf-8")) for name in sorted(files) if name.startswith(EARLIER)]
        page = report.decode("utf-8") if report else None
        return Handover(prescription, ledger, package["created"], page, tuple(earlier))
    except PrescriptionError as error:
        raise HandoverError(f"its prescription is faulty ({error.faults[0]})") from None
    except KeyError as error:
        raise HandoverError(f"{error.args[0]} is missing") from None
    except (ValueError, TypeError) as error:
        raise HandoverError(f"it is damaged ({' '.join(str(error).split())[:120]})") from None


def _unpacked(content: bytes) -> dict[str, bytes]:
    try:
        return read_archive(content)
    except ArchiveError as error:
        raise HandoverError(f"this is no sound hand-over: {error.problem}", error.remedy) from None
