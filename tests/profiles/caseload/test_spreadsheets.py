"""No cell of a table that leaves the program is a formula to whoever opens it in a spreadsheet
(OWASP, CSV Injection)."""

from __future__ import annotations

import csv
import io
import shutil
import subprocess
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from musclewood.profiles.caseload.parquet import gather
from musclewood.profiles.disk.plain_text import QUOTE, safe_cell
from musclewood.profiles.handover.package import pack
from musclewood.profiles.handover.reading import read_handover
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.ledger import read_ledger
from musclewood.profiles.journal.records import InterruptionRecord, SessionEnd, SessionStart
from musclewood.profiles.orders.prescription import Prescription

pytest.importorskip("duckdb")

NOW = datetime(2026, 12, 1, 20, tzinfo=UTC)
FORMULAS = ('=1+41', '+41+1', "-41-1", "@SUM(1;41)", "\t=1+41", '=HYPERLINK("http://host.example";"x")')  # fmt: skip


@pytest.fixture
def written(tmp_path: Path, knee: Prescription, play: Callable[..., int]) -> Path:
    """A caseload of somebody whose muscle, sensor and remarks are formulas, and of files whose names are."""
    folder = tmp_path / "received"
    folder.mkdir()
    named = [one.model_copy(update={"name": FORMULAS[0]}) for one in knee.muscles]
    order = knee.model_copy(update={"muscles": tuple(named)})
    with Journal.open(tmp_path / "journal.sqlite") as journal:
        for number, formula in enumerate(FORMULAS):
            at = datetime(2026, 11, 26 - number, 16, tzinfo=UTC)
            play(journal, at, mvc_uv=170.0)
            start = SessionStart("HB-0042", 1, "ble", at.replace(hour=18).isoformat(), sensor=formula)
            session = journal.begin_session(start)
            journal.add(session, InterruptionRecord(1.0, 2.0, "contact lost", formula))
            journal.end_session(session, SessionEnd(at.replace(hour=19).isoformat(), "complete", formula))
        (folder / "HB-0042-0a0a0a0a-000001.zip").write_bytes(pack(read_ledger(journal), order, "<p>report</p>", NOW))
    (folder / "=1+41-HB-0043-.zip").write_bytes(b"none")
    gather(folder, tmp_path / "caseload")
    return tmp_path


def tables(folder: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(folder / "received" / "HB-0042-0a0a0a0a-000001.zip") as archive:
        found = {name: archive.read(name) for name in archive.namelist() if name.endswith(".csv")}
    return found | {path.name: path.read_bytes() for path in (folder / "caseload").glob("*.csv")}


def is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def test_no_cell_begins_as_a_formula_does(written: Path) -> None:
    quoted = 0
    for name, content in tables(written).items():
        for row in csv.reader(io.StringIO(content.decode("utf-8"), newline="")):
            for cell in row:
                assert not cell.startswith(("=", "+", "-", "@", "\t", "\r")) or is_number(cell), (name, cell)
                quoted += cell.startswith(QUOTE)
    assert quoted >= 3 * len(FORMULAS)


def test_what_is_read_back_is_what_was_written(written: Path) -> None:
    package = read_handover((written / "received" / "HB-0042-0a0a0a0a-000001.zip").read_bytes())
    assert {session.start.sensor for session in package.ledger.sessions} >= set(FORMULAS)


@given(st.text(max_size=12))
def test_the_way_back_is_always_the_same(text: str) -> None:
    assert safe_cell(text).removeprefix(QUOTE) == text


@pytest.mark.skipif(shutil.which("soffice") is None, reason="LibreOffice is not here")
@pytest.mark.full_size
def test_a_spreadsheet_works_nothing_out(written: Path, full: bool) -> None:
    """LibreOffice, told to take formulas from a CSV (token 16 of its filter's options), writes back what it made of
    them."""
    names = sorted(tables(written)) if full else ["patients.csv", "interruptions.csv"]
    for name in names:
        source, into = written / f"in-{name}", written / "out"
        source.write_bytes(tables(written)[name])
        profile = f"-env:UserInstallation=file://{written / 'office'}"
        command: list[Any] = [
            "soffice",
            profile,
            "--headless",
            "--infilter=CSV:44,34,76,1,,0,false,true,false,false,false,0,true",
        ]
        subprocess.run(
            [*command, "--convert-to", "csv", "--outdir", into, source], check=True, capture_output=True, timeout=170
        )
        worked = (into / source.name).read_text("utf-8")
        assert not any(cell == "42" for row in csv.reader(io.StringIO(worked)) for cell in row), worked[:500]
