"""Reading a hand-over on the therapist's side."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from musclewood.assets.saying import say
from musclewood.profiles.errors import ArchiveError, HandoverError, PrescriptionError
from musclewood.profiles.handover.columns import LATER, NAMES
from musclewood.profiles.handover.package import EARLIER
from musclewood.profiles.handover.parsing import moment, sessions_from_csv
from musclewood.profiles.journal.ledger import Ledger
from musclewood.profiles.orders.prescription import Prescription, parse
from musclewood.profiles.orders.tables import Retest
from musclewood.profiles.trust.archive import read_archive

# Measured: a descriptor has 19 kB. A remark is a sentence. Our choice.
LARGEST_DESCRIPTOR = 1_000_000
MOST_REMARKS, LONGEST_REMARK = 1000, 1000
FORMAT = "musclewood-handover/1"


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


def read_handover(content: bytes, *, efforts: bool = True) -> Handover:
    """Unpack and check a hand-over that is not sealed, or was opened. Raises HandoverError in one clear line."""
    try:
        files = read_archive(content)
    except ArchiveError as error:
        raise HandoverError(say("wrong.no-sound-hand-over", problem=error.problem), error.remedy) from None
    return handover_of(files, efforts=efforts)


def handover_of(files: Mapping[str, bytes], *, efforts: bool = True) -> Handover:
    """The same of files that were unpacked; `efforts` as for `sessions_from_csv`. Raises HandoverError."""
    with one_clear_line():
        package = descriptor(files["datapackage.json"])
        for resource in package["resources"]:
            digest = hashlib.sha256(files[resource["path"]]).hexdigest()
            if resource["hash"] != f"sha256:{digest}":
                raise HandoverError(say("wrong.not-written", resource=str(resource["path"])[:60]))
        ours = package["musclewood"]
        prescription = parse(files["prescription.toml"].decode("utf-8"))
        if prescription.patient != ours["patient"]:
            raise HandoverError(say("wrong.order-another-patient"))
        there = [name for name in NAMES if name not in LATER or f"{name}.csv" in files]
        sessions = sessions_from_csv({name: files[f"{name}.csv"] for name in there}, efforts=efforts)
        if any(session.start.patient != prescription.patient for session in sessions):
            raise HandoverError(say("wrong.sessions-another-patient"))
        problems, notices = remarks(ours["journal_problems"]), remarks(ours["journal_notices"])
        ledger = Ledger(sessions, str(ours["journal_hash"])[:64], problems, notices)
        report = files.get("report.html")
        earlier = [parse(files[name].decode("utf-8")) for name in sorted(files) if name.startswith(EARLIER)]
        page = report.decode("utf-8") if report else None
        orders = with_retests([*earlier, prescription], ours.get("retests", {}))
        return Handover(orders[-1], ledger, package["created"], page, orders[:-1])


def with_retests(orders: Sequence[Prescription], retests: Any) -> tuple[Prescription, ...]:
    """The orders with the tests that they repeat, which the descriptor holds by revision. Raises HandoverError,
    ValueError."""
    if not isinstance(retests, dict):
        raise HandoverError(say("wrong.description-not-program-writes"))
    found = {number: Retest.model_validate_json(json.dumps(table)) for number, table in retests.items()}
    return tuple(one.model_copy(update={"retest": found.get(str(one.revision))}) for one in orders)


def descriptor(content: bytes) -> dict[str, Any]:
    """A hand-over's description of itself, of a format that is known. Raises HandoverError, ValueError, KeyError."""
    if len(content) > LARGEST_DESCRIPTOR:
        raise HandoverError(say("wrong.description-far-too-long"))
    package = json.loads(content)
    if not isinstance(package, dict) or not isinstance(package["musclewood"], dict):
        raise HandoverError(say("wrong.description-not-program-writes"))
    if (known := package["musclewood"]["format"]) != FORMAT:
        raise HandoverError(say("wrong.format-not-known", known=str(known)[:60]), say("mend.update-program"))
    moment(str(package["created"]))
    return package


def remarks(entries: Any) -> tuple[str, ...]:
    """What the journal says about itself. Raises ValueError."""
    if not isinstance(entries, list) or len(entries) > MOST_REMARKS or not all(isinstance(e, str) for e in entries):
        raise ValueError("its remarks are not as this program writes them")
    return tuple(entry[:LONGEST_REMARK] for entry in entries)


@contextmanager
def one_clear_line() -> Iterator[None]:
    """Whatever a hand-over of unknown make does to its reader becomes a HandoverError that says what is wrong."""
    try:
        yield
    except PrescriptionError as error:
        raise HandoverError(say("wrong.prescription-faulty", faults=error.faults[0])) from None
    except KeyError as error:
        raise HandoverError(say("wrong.missing", args=str(error.args[0])[:60])) from None
    except RecursionError:
        raise HandoverError(say("wrong.nested-far-too-deeply")) from None
    except (ValueError, TypeError, AttributeError, LookupError, ArithmeticError) as error:
        raise HandoverError(say("wrong.damaged", known=" ".join(str(error).split())[:160])) from None
