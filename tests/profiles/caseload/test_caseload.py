"""Many hand-overs as one table: the same figures as each report, nothing twice, nothing lost, each file named."""

from __future__ import annotations

import csv
import json
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import duckdb
import frictionless
import pytest
from musclewood.profiles.caseload.batches import batches, list_handovers, numbered_rows
from musclewood.profiles.caseload.parquet import gather
from musclewood.profiles.caseload.schema import ALL, table_columns
from musclewood.profiles.errors import HandoverError
from musclewood.profiles.handover.package import pack
from musclewood.profiles.journal.history import zone_of
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.ledger import Ledger, read_ledger
from musclewood.profiles.journal.records import InterruptionRecord, SessionStart
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.plan.adherence import adherence
from musclewood.profiles.plan.recent_mvc import Measured, change, follow

START = datetime(2026, 11, 26, 16, tzinfo=UTC)
MADE = datetime(2026, 12, 1, 20, tzinfo=UTC)


@pytest.fixture
def ledger(tmp_path: Path, play: Callable[..., int], rep: Callable[..., Any]) -> Ledger:
    """Four sessions that count, one of practice, one with a remark that spans lines."""
    with Journal.open(tmp_path / "journal.sqlite") as journal:
        for day, mvc_uv in enumerate((170.0, 190.0, 240.0, 300.0)):
            reps = [rep(number, "counted" if number % 4 else "weak") for number in range(1, 11)]
            play(journal, START + timedelta(days=day), reps=reps, pain=(1, 2 + day), mvc_uv=mvc_uv)
        play(journal, START + timedelta(days=2, hours=3), source="keyboard", pain=(9,))
        session = journal.begin_session(SessionStart("HB-0042", 1, "ble", (START + timedelta(days=4)).isoformat()))
        journal.add(session, InterruptionRecord(1.0, 2.0, "contact lost", 'the "left", loose\nagain'))
        return read_ledger(journal)


@pytest.fixture
def received(tmp_path: Path, ledger: Ledger, knee: Prescription) -> Path:
    """A folder with the hand-overs of three patients, one of them from two computers that share sessions."""
    folder = tmp_path / "received"
    (folder / "sub").mkdir(parents=True)
    shorter = Ledger(ledger.sessions[:2])
    for code, name, what in (
        ("HB-0042", "HB-0042-0a0a0a0a-000001.zip", shorter),
        ("HB-0042", "HB-0042-0a0a0a0a-000007.zip", ledger),
        ("HB-0042", "HB-0042-0b0b0b0b-000001.zip", shorter),
        ("HB-0043", "sub/musclewood-HB-0043-20261201T200000Z.zip", ledger),
        ("HB-0044", "somebody.zip", Ledger(())),
    ):
        order = knee.model_copy(update={"patient": code})
        (folder / name).write_bytes(pack(what, order, "<p>the report</p>", MADE))
    (folder / "HB-0045-0c0c0c0c-000001.zip.sealed").write_bytes(b"musclewood-sealed-handover/1")
    return folder


def patients(folder: Path) -> dict[str, dict[str, str]]:
    with open(folder / "patients.csv", encoding="utf-8", newline="") as file:
        return {row["patient"]: row for row in csv.DictReader(file)}


def test_every_patient_has_a_line_with_the_figures_of_the_report(
    received: Path, ledger: Ledger, knee: Prescription, tmp_path: Path
) -> None:
    told: list[tuple[int, int]] = []
    gathered = gather(received, tmp_path / "caseload", lambda done, of: told.append((done, of)))
    assert (gathered.patients, gathered.files, gathered.refused, gathered.sealed) == (3, 5, (), 1)
    assert told[-1] == (5, 5)
    rows = patients(tmp_path / "caseload")
    assert list(rows) == ["HB-0042", "HB-0043", "HB-0044"]
    zone = zone_of(knee.timezone)
    expected = adherence([knee], ledger.counting(), knee.issued, date(2026, 12, 1), zone)
    measured = [
        Measured(one.started, one.calibrations[0].mvc_uv, 0.026) for one in ledger.counting() if one.calibrations
    ]
    for code in ("HB-0042", "HB-0043"):
        row = rows[code]
        assert int(row["reps_counted"]) == 32 and int(row["reps_attempted"]) == 40
        assert float(row["reps_capped_pct"]) == pytest.approx(expected.reps_capped_pct, abs=1e-4)
        assert float(row["sessions_whole_pct"]) == pytest.approx(expected.sessions_pct, abs=1e-4)
        assert float(row["mvc_uv"]) == pytest.approx(follow(measured)[-1].estimate_uv, abs=1e-4)
        seen = change(measured)
        assert seen is not None and float(row["mvc_change_pct"]) == pytest.approx(seen.percent, abs=1e-4)
        assert (row["sessions"], row["highest_pain"], row["last_session"]) == ("4", "5", "2026-11-29"), "no practice"
    assert (rows["HB-0044"]["sessions"], rows["HB-0044"]["reps_ordered"]) == ("0", expected and str(44 * 5))


def test_what_two_computers_hold_is_there_once_and_every_row_names_its_file(received: Path, tmp_path: Path) -> None:
    gather(received, tmp_path / "caseload")
    with duckdb.connect() as database:
        source = f"'{tmp_path}/caseload/sessions/*.parquet' WHERE patient = 'HB-0042'"
        seen = database.execute(f"SELECT count(*), count(DISTINCT started_at) FROM {source}").fetchone()
        assert seen == (6, 6)
        names = {row[0] for row in database.execute(f"SELECT DISTINCT hand_over FROM {source}").fetchall()}
        assert names <= {"HB-0042-0a0a0a0a-000007.zip", "HB-0042-0b0b0b0b-000001.zip"}
        count = database.execute(f"SELECT count(*) FROM '{tmp_path}/caseload/repetitions/*.parquet'").fetchone()
        assert count == (88,)  # 44 each, those of practice among them
        (detail,) = database.execute(
            f"SELECT DISTINCT detail FROM '{tmp_path}/caseload/interruptions/*.parquet'"
        ).fetchone() or ("",)
        assert detail == 'the "left", loose\nagain'


def test_the_schema_is_documented_and_true(received: Path, tmp_path: Path) -> None:
    folder = tmp_path / "caseload"
    gather(received, folder)
    package = json.loads((folder / "datapackage.json").read_text("utf-8"))
    assert [resource["name"] for resource in package["resources"]] == list(ALL)
    wanted = {"integer": "BIGINT", "number": "DOUBLE", "boolean": "BOOLEAN", "date": "DATE", "string": "VARCHAR"}
    with duckdb.connect() as database:
        for resource in package["resources"]:
            if resource["format"] == "parquet":
                found = database.execute(f"DESCRIBE SELECT * FROM '{folder}/{resource['name']}/*.parquet'").fetchall()
                assert [(row[0], row[1]) for row in found] == [
                    (field["name"], wanted[field["type"]]) for field in resource["schema"]["fields"]
                ]
    report = frictionless.validate(frictionless.Resource(package["resources"][0], basepath=str(folder)))
    assert report.valid, report.flatten(["title", "message"])
    with open(folder / "columns.csv", encoding="utf-8", newline="") as file:
        listed = [(row["table"], row["column"]) for row in csv.DictReader(file)]
    assert listed == [(table, column) for table in ALL for column in table_columns(table)]


def test_what_cannot_be_read_is_named_and_keeps_no_other_out(received: Path, tmp_path: Path) -> None:
    whole = (received / "HB-0042-0a0a0a0a-000007.zip").read_bytes()
    (received / "HB-0046-0d0d0d0d-000001.zip").write_bytes(whole[:5000])
    (received / "HB-0047-0d0d0d0d-000001.zip").write_bytes(b"PK\x03\x04 holiday")
    gathered = gather(received, tmp_path / "caseload")
    assert gathered.patients == 3
    assert sorted(path.name[:7] for path, _ in gathered.refused) == ["HB-0046", "HB-0047"]
    assert all("\n" not in reason for _, reason in gathered.refused)
    assert len((tmp_path / "caseload" / "refused.csv").read_text("utf-8").splitlines()) == 3


def test_a_caseload_replaces_a_caseload_and_nothing_else(received: Path, tmp_path: Path) -> None:
    gather(received, tmp_path / "caseload")
    before = (tmp_path / "caseload" / "patients.csv").read_bytes()
    gather(received, tmp_path / "caseload")
    assert (tmp_path / "caseload" / "patients.csv").read_bytes() == before
    (tmp_path / "holiday").mkdir()
    (tmp_path / "holiday" / "beach.jpg").write_bytes(b"sun")
    with pytest.raises(HandoverError, match="something else"):
        gather(received, tmp_path / "holiday")
    (tmp_path / "empty").mkdir()
    with pytest.raises(HandoverError, match="no hand-over lies"):
        gather(tmp_path / "empty", tmp_path / "other")
    with pytest.raises(HandoverError, match="no folder"):
        gather(tmp_path / "nowhere", tmp_path / "other")
    assert not (tmp_path / "other").exists()
    assert not list(tmp_path.glob(".*.part"))


def test_without_duckdb_the_remedy_is_said(received: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "duckdb", None)
    with pytest.raises(HandoverError, match=r"musclewood\[caseload\]"):
        gather(received, tmp_path / "caseload")


def test_rows_are_numbered_whatever_is_in_them() -> None:
    assert numbered_rows(7, b"a,b\r\n1,2\r\n3,4\r\n") == b"7,1,2\r\n7,3,4\r\n"
    assert numbered_rows(7, b"a,b\r\n") == b""
    assert numbered_rows(7, b'a,b\r\n1,"x\r\ny"\r\n') == b'7,1,"x\r\ny"\r\n'


def test_files_of_a_patient_are_never_in_two_batches(received: Path) -> None:
    listed = list_handovers(received)
    assert [[path.name[:7] for path in batch] for batch in batches(listed, 2)] == [
        ["somebod"], ["HB-0042"] * 3, ["musclew"],
    ]  # fmt: skip
