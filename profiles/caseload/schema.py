"""What every column of a caseload means: for DuckDB, for people, and as a Data Package."""

from __future__ import annotations

import csv
import json
from datetime import datetime
from pathlib import Path
from typing import Any

from musclewood.profiles.caseload.batches import TABLES
from musclewood.profiles.caseload.patients import DAY_COLUMNS, PATIENT_COLUMNS
from musclewood.profiles.handover.columns import MEANINGS, TITLES, columns_of

MARK = "musclewood-caseload/1"
_TYPES = {"integer": "BIGINT", "number": "DOUBLE", "boolean": "BOOLEAN", "date": "DATE"}
_FROM = {
    "patient": ("string", "the clinic's code"),
    "hand_over": ("string", "file that the row comes from; with session and order it finds the row there"),
}
_TITLES = {"patients": "One line a patient", "days": "One line a patient and day"} | TITLES
ALL = ("patients", "days", *TABLES)


def table_columns(table: str) -> dict[str, tuple[str, str]]:
    """Type and meaning of each column of a table, as it is written."""
    if table == "patients":
        return PATIENT_COLUMNS
    if table == "days":
        return DAY_COLUMNS
    own = {
        column: ("string" if kind == "datetime" else kind, MEANINGS.get(column, ""))
        for column, kind in columns_of(table).items()
        if column != "patient"
    }
    return _FROM | own


def duck_columns(table: str) -> str:
    """The columns of a table's CSV as DuckDB wants to be told; those of hand-overs begin with
    the hand-over's number."""
    if table in ("patients", "days"):
        kinds = {column: kind for column, (kind, _) in table_columns(table).items()}
    else:
        kinds = {"number": "integer"} | columns_of(table)
    return "{" + ", ".join(f"'{column}': '{_TYPES.get(kind, 'VARCHAR')}'" for column, kind in kinds.items()) + "}"


def write_columns(path: Path) -> None:
    """The same for people, as a table that opens in a spreadsheet."""
    with open(path, "w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(("table", "column", "type", "meaning"))
        for table in ALL:
            writer.writerows((table, column, kind, words) for column, (kind, words) in table_columns(table).items())


def package_text(folder: Path, moment: datetime) -> str:
    """The descriptor of a caseload (Data Package standard, version 2)."""
    package = {
        "$schema": "https://datapackage.org/profiles/2.0/datapackage.json",
        "name": "musclewood-caseload",
        "title": "Exercises done at home, all patients of a folder",
        "description": "Patients are known by their clinic's codes. Practice never counts. Times are seconds since the "
        "session began; efforts are in per cent of the reference maximal voluntary contraction.",
        "created": moment.isoformat(timespec="seconds"),
        "musclewood": {"format": MARK},
        "resources": [_resource(folder, table) for table in ALL if _paths(folder, table)],
    }
    return json.dumps(package, indent=2, ensure_ascii=False)


def _paths(folder: Path, table: str) -> list[str]:
    if table == "patients":
        return ["patients.csv"]
    return sorted(path.relative_to(folder).as_posix() for path in (folder / table).glob("*.parquet"))


def _resource(folder: Path, table: str) -> dict[str, Any]:
    form = {"format": "csv", "mediatype": "text/csv", "encoding": "utf-8"} if table == "patients" else {}
    return {
        "name": table,
        "title": _TITLES[table],
        "path": _paths(folder, table),
        **(form or {"format": "parquet", "mediatype": "application/vnd.apache.parquet"}),
        "schema": {
            "fields": [
                {"name": column, "type": kind, **({"description": words} if words else {})}
                for column, (kind, words) in table_columns(table).items()
            ],
            "missingValues": [""],
        },
    }
