"""The facts of each patient, kept in a small file, so that the desk opens at once however much was handed over.

A file says what it was made from; when that is no longer what lies there, it is made again. So it can always be
deleted, and a copy from a backup does no harm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from hashlib import blake2b
from pathlib import Path

from musclewood.profiles.caseload.summary import Facts, facts_of
from musclewood.profiles.clinic.records import read_merged, read_orders
from musclewood.profiles.disk.files import read_bounded, write_whole
from musclewood.profiles.errors import HandoverError, PrescriptionError, StorageError, TrustError
from musclewood.profiles.handover.parsing import moment
from musclewood.profiles.handover.reading import one_clear_line
from musclewood.profiles.journal.history import zone_of
from pydantic import TypeAdapter, ValidationError

VERSION = "musclewood-summary/1"
_FACTS: TypeAdapter[tuple[str, Facts]] = TypeAdapter(tuple[str, Facts])


@dataclass(frozen=True)
class Summaries:
    """Where they lie."""

    folder: Path

    def facts(self, code: str, orders: Sequence[Path], handovers: Sequence[Path]) -> Facts:
        """What these files say; a file that cannot be read is a fact of its own and hides no other patient."""
        basis = _basis(orders, handovers)
        path = self.folder / f"{code}.json"
        kept = _kept(path)
        if kept is not None and kept[0] == basis:
            return kept[1]
        try:
            with one_clear_line():
                facts = _made(code, orders, handovers)
        except (HandoverError, TrustError, PrescriptionError) as error:
            return Facts(code, unreadable=error.args[0])  # not kept: the file may be mended
        if facts.unreadable:
            return facts
        try:
            write_whole(path, _FACTS.dump_json((basis, facts)))
        except StorageError:
            return facts  # a full disk makes the desk slower, not blind
        return facts


def _made(code: str, orders: Sequence[Path], handovers: Sequence[Path]) -> Facts:
    ledger, latest, fault = read_merged(handovers)
    issued = read_orders(orders)
    if latest is None:
        return replace(facts_of(code, issued, None, None), unreadable=fault)
    known = issued or (latest.prescription,)
    made = moment(latest.created).astimezone(zone_of(known[-1].timezone)).date()
    return replace(facts_of(code, known, ledger, made), unreadable=fault)


def _kept(path: Path) -> tuple[str, Facts] | None:
    try:
        return _FACTS.validate_json(read_bounded(path, 1_000_000))
    except (StorageError, ValidationError):
        return None


def _basis(orders: Sequence[Path], handovers: Sequence[Path]) -> str:
    """Names say it all: a revision, and a computer's number, are used once."""
    names = "\n".join([VERSION, *(path.name for path in (*orders, *handovers))])
    return blake2b(names.encode(), digest_size=16).hexdigest()
