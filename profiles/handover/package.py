"""The export that goes back to the therapist: a zip that is an open Data Package, with the report beside the tables.

Written atomically, so that a sync tool carrying the folder never picks up half a file.
"""

from __future__ import annotations

import io
import json
import zipfile
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path

from musclewood.profiles.disk.files import write_whole
from musclewood.profiles.handover.tables import describe, table_rows, tables_as_csv
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.ledger import Ledger, read_ledger
from musclewood.profiles.orders.prescription import Prescription, dump

Seal = Callable[[bytes], bytes]

EARLIER = "earlier/"  # the revisions that were in force before


def write_handover(
    journal: Journal,
    prescription: Prescription,
    folder: Path,
    report_html: str | None = None,
    *,
    seal: Seal | None = None,
    now: datetime | None = None,
    revisions: Sequence[Prescription] = (),
) -> Path:
    """Write a hand-over of the whole journal into `folder` and return its path.

    `seal` turns the zip's bytes into what only the clinic can open; the file then ends in `.sealed`. `revisions`
    are earlier orders, the oldest first. Raises JournalError if the journal cannot be read and StorageError if the
    folder cannot be written.
    """
    moment = (now or datetime.now(UTC)).astimezone(UTC)
    content = pack(read_ledger(journal), prescription, report_html, moment, revisions)
    name = f"musclewood-{prescription.patient}-{moment.strftime('%Y%m%dT%H%M%SZ')}.zip"
    if seal is not None:
        content, name = seal(content), f"{name}.sealed"
    write_whole(folder / name, content)
    return folder / name


def pack(
    ledger: Ledger,
    prescription: Prescription,
    report_html: str | None,
    moment: datetime,
    revisions: Sequence[Prescription] = (),
) -> bytes:
    """The hand-over as bytes. The same ledger at the same moment gives the same bytes."""
    tables = tables_as_csv(table_rows(ledger))
    package = describe(ledger, prescription, tables, moment, revisions)
    files = {"datapackage.json": json.dumps(package, indent=2, ensure_ascii=False).encode()}
    files |= {f"{name}.csv": content for name, content in tables.items()}
    files["prescription.toml"] = _as_ever(prescription)
    files |= {f"{EARLIER}{order.revision:04d}.toml": _as_ever(order) for order in revisions}
    if report_html is not None:
        files["report.html"] = report_html.encode()
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            entry = zipfile.ZipInfo(name, moment.timetuple()[:6])
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, content)
    return buffer.getvalue()


def _as_ever(order: Prescription) -> bytes:
    """The order as desks of earlier versions can read it: the test it repeats stands in the descriptor, which they pass
    over."""
    return dump(order.model_copy(update={"retest": None})).encode()
