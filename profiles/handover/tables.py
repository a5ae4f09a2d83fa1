"""The hand-over's tables as CSV and back again, and their description as a Data Package."""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Mapping, Sequence
from dataclasses import MISSING, fields
from datetime import datetime
from typing import Any

from musclewood.profiles.disk.plain_text import safe_cell
from musclewood.profiles.handover.columns import (
    EFFORTS,
    LATER,
    NAMES,
    PROFILE,
    TABLES,
    TITLES,
    columns_of,
    schema_of,
)
from musclewood.profiles.journal.ledger import Ledger
from musclewood.profiles.journal.records import to_plain
from musclewood.profiles.orders.prescription import Prescription

Rows = dict[str, list[dict[str, Any]]]


def table_rows(ledger: Ledger) -> Rows:
    """Every table as rows of plain values."""
    rows: Rows = {name: [] for name in NAMES}
    name_of = {kind: name for name, kind in TABLES.items()}
    for session in ledger.sessions:
        end = to_plain(session.end) if session.end else {"ended_at": None, "ending": None, "note": None}
        row = {"session": session.session_id, "practice": session.practice, **to_plain(session.start), **end}
        rows["sessions"].append(row)
        for order, record in enumerate(session.records, start=1):
            place = {"session": session.session_id, "order": order}
            values = to_plain(record)
            if profile := values.pop(PROFILE, None):
                rows[EFFORTS].append({**place, PROFILE: profile})
            rows[name_of[type(record)]].append({**place, **values})
    return rows


def tables_as_csv(rows: Rows) -> dict[str, bytes]:
    """Each table as CSV (RFC 4180, UTF-8, one header row)."""
    tables = {}
    for name, table in rows.items():
        if name in LATER and not table:
            continue
        buffer = io.StringIO(newline="")
        writer = csv.DictWriter(buffer, list(columns_of(name)), lineterminator="\r\n")
        writer.writeheader()
        writer.writerows({key: _cell(value) for key, value in row.items()} for row in table)
        tables[name] = buffer.getvalue().encode()
    return tables


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return " ".join("nan" if item is None else repr(item) for item in value)
    if isinstance(value, float):
        return repr(value)
    return safe_cell(value) if isinstance(value, str) else str(value)  # a sensor may be called anything


def describe(
    ledger: Ledger,
    prescription: Prescription,
    tables: Mapping[str, bytes],
    moment: datetime,
    earlier: Sequence[Prescription] = (),
) -> dict[str, Any]:
    """The package's descriptor (Data Package standard, version 2)."""
    retests = {str(one.revision): one.retest.model_dump(mode="json") for one in (*earlier, prescription) if one.retest}
    return {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": f"musclewood-{prescription.patient.lower()}",
        "title": f"Exercises done at home, patient {prescription.patient}",
        "description": "What was ordered stands in prescription.toml. Times are seconds since the session began; "
        "efforts are in per cent of the reference maximal voluntary contraction.",
        "created": moment.isoformat(timespec="seconds"),
        "resources": [_resource(name, content) for name, content in tables.items()],
        "musclewood": {
            "format": "musclewood-handover/1",
            "patient": prescription.patient,
            "revision": prescription.revision,
            "journal_hash": ledger.journal_hash,
            "journal_problems": list(ledger.problems),
            "journal_notices": list(ledger.notices),
            **({"retests": retests} if retests else {}),
        },
    }


def _resource(name: str, content: bytes) -> dict[str, Any]:
    return {
        "name": name,
        "title": TITLES[name],
        "type": "table",
        "path": f"{name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(content),
        "hash": f"sha256:{hashlib.sha256(content).hexdigest()}",
        "schema": schema_of(name),
    }


def known_columns(name: str, found: Sequence[str]) -> bool:
    """Whether these are the table's columns; an earlier version had fewer of the last ones, which may be left out."""
    columns = list(columns_of(name))
    later = columns[len(found) :]
    return list(found) == columns[: len(found)] and set(later) <= _optional(name)


def _optional(name: str) -> set[str]:
    kind = TABLES.get(name)
    return {field.name for field in fields(kind) if field.default is not MISSING} if kind else set()


def widened(name: str, content: bytes) -> bytes:
    """A table of this or an earlier version with all columns of now. Raises ValueError for any other columns."""
    header, _, rows = content.partition(b"\r\n")
    found = header.decode("utf-8", "replace").split(",")
    if not known_columns(name, found):
        raise ValueError(f"{name}.csv has other columns than expected")
    columns = list(columns_of(name))
    if len(found) == len(columns):
        return content
    buffer = io.StringIO(newline="")
    writer = csv.writer(buffer, lineterminator="\r\n")
    blank = [""] * (len(columns) - len(found))
    writer.writerow(columns)
    writer.writerows([*row, *blank] for row in csv.reader(io.StringIO(rows.decode("utf-8"), newline="")))
    return buffer.getvalue().encode()
