"""The hand-over: an open data package that says everything and is never half there."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import random
import re
import zipfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import frictionless
import pytest
from musclewood.profiles.errors import HandoverError
from musclewood.profiles.handover.package import pack, write_handover
from musclewood.profiles.handover.reading import read_handover
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.ledger import Ledger, LedgerSession, read_ledger
from musclewood.profiles.journal.records import InterruptionRecord, ScalingRecord, SessionEnd, SessionStart
from musclewood.profiles.orders.prescription import Prescription

Play = Callable[..., int]
NOW = datetime(2026, 11, 29, 18, 30, tzinfo=UTC)


@pytest.fixture
def journal(journal_path: Path, play: Play, rep: Any) -> Any:
    with Journal.open(journal_path) as journal:
        start = datetime.fromisoformat("2026-11-26T17:00:00+01:00")
        play(journal, start, pain=(1, 2))
        play(journal, start + timedelta(days=1), source="keyboard")
        nan = rep(1, "unreadable", steadiness=float("nan"), effort_profile=())
        play(journal, start + timedelta(days=2), reps=[nan, rep(2, opposite_mean_pct_mvc=7.5)])
        session = journal.begin_session(SessionStart("HB-0042", 1, "ble", (start + timedelta(days=3)).isoformat()))
        journal.add(session, InterruptionRecord(5.0, 9.0, "contact lost", 'the "left" electrode, loose\nagain'))
        journal.add(session, ScalingRecord("thigh-hold", 35.0, 37.0, 8.0, 7.5, 6.0, 6.0, None, "More.", "Skill 0.6."))
        journal.end_session(session, SessionEnd((start + timedelta(days=3, minutes=1)).isoformat(), "stopped"))
        yield journal


def unzip(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as archive:
        assert archive.testzip() is None
        return {name: archive.read(name) for name in archive.namelist()}


def test_everything_is_in_it_and_comes_back(journal: Journal, knee: Prescription, tmp_path: Path) -> None:
    path = write_handover(journal, knee, tmp_path / "out", "<html>the report</html>", now=NOW)
    assert path.name == "musclewood-HB-0042-20261129T183000Z.zip"
    back = read_handover(path.read_bytes())
    assert back.prescription == knee and back.report_html == "<html>the report</html>"
    # NaN is unlike itself, so the ledgers are compared as they are written.
    assert repr(back.ledger) == repr(read_ledger(journal))
    assert len(back.ledger.sessions) == 4 and len(back.ledger.counting()) == 3


def test_the_tables_are_what_the_descriptor_says(journal: Journal, knee: Prescription, tmp_path: Path) -> None:
    files = unzip(write_handover(journal, knee, tmp_path, None, now=NOW))
    package = json.loads(files["datapackage.json"])
    names = [resource["name"] for resource in package["resources"]]
    assert names == ["sessions", "sets", "repetitions", "calibrations", "interruptions", "ratings", "scaling",
                     "efforts"]  # fmt: skip
    assert re.fullmatch(r"[a-z0-9._-]+", package["name"])
    parse = {"integer": int, "number": float, "string": str, "boolean": {"true": True, "false": False}.__getitem__,
             "datetime": datetime.fromisoformat}  # fmt: skip
    sessions: set[str] = set()
    for resource in package["resources"]:
        content = files[resource["path"]]
        assert resource["bytes"] == len(content)
        assert resource["hash"] == "sha256:" + hashlib.sha256(content).hexdigest()
        rows = list(csv.DictReader(io.StringIO(content.decode(resource["encoding"]), newline="")))
        schema = resource["schema"]
        assert rows and list(rows[0]) == [field["name"] for field in schema["fields"]]
        keys = [tuple(row[key] for key in schema["primaryKey"]) for row in rows]
        assert len(set(keys)) == len(keys)
        if resource["name"] == "sessions":
            sessions = {row["session"] for row in rows}
        assert {row["session"] for row in rows} <= sessions
        for row in rows:
            for field in schema["fields"]:
                if row[field["name"]] not in schema["missingValues"]:
                    parse[field["type"]](row[field["name"]])  # type: ignore[operator]


def test_an_independent_reader_finds_it_valid(journal: Journal, knee: Prescription, tmp_path: Path) -> None:
    files = unzip(write_handover(journal, knee, tmp_path, None, now=NOW))
    folder = tmp_path / "unpacked"
    folder.mkdir()
    for name, content in files.items():
        (folder / name).write_bytes(content)
    report = frictionless.validate(str(folder / "datapackage.json"))
    assert report.valid, report.flatten(["title", "message"])
    assert report.stats["tasks"] == 8
    # It does look at the rows: a number that is none, and a session that is not there, are found.
    sound = files["repetitions.csv"]
    (folder / "repetitions.csv").write_bytes(sound.replace(b",5.6,", b",five,", 1).replace(b"\r\n1,", b"\r\n9,", 1))
    broken = frictionless.validate(str(folder / "datapackage.json"))
    assert {kind for (kind,) in broken.flatten(["type"])} >= {"type-error", "foreign-key", "hash-count"}


def test_units_and_times_are_plain(journal: Journal, knee: Prescription, tmp_path: Path) -> None:
    files = unzip(write_handover(journal, knee, tmp_path, None, now=NOW))
    for resource in json.loads(files["datapackage.json"])["resources"]:
        for field in resource["schema"]["fields"]:
            if field["type"] == "number":
                assert field["name"].endswith(("_s", "_uv", "_pct", "_pct_mvc", "_pct_mvc_per_s")) or field["name"] in {
                    "cv", "steadiness", "predicted_success", "readable_share", "rest_scatter", "rest_hidden",
                }  # fmt: skip
    (first, *_) = csv.DictReader(io.StringIO(files["sessions.csv"].decode()))
    assert first["started_at"] == "2026-11-26T17:00:00+01:00" and first["practice"] == "false"


@pytest.mark.parametrize("name", ["=HYPERLINK(1)", "+49", "-1", "@sum", "'quoted", "\tTab", "plain"])
def test_no_cell_is_a_formula_for_a_spreadsheet(name: str, knee: Prescription, tmp_path: Path) -> None:
    start = SessionStart("HB-0042", 1, "ble", "2026-11-26T17:00:00+01:00", sensor=name)
    packed = pack(Ledger((LedgerSession(1, start, None),)), knee, None, NOW)
    with zipfile.ZipFile(io.BytesIO(packed)) as archive:
        (row,) = csv.DictReader(io.StringIO(archive.read("sessions.csv").decode(), newline=""))
    assert row["sensor"][0] in "'p"
    assert read_handover(packed).ledger.sessions[0].start.sensor == name


def test_the_same_past_gives_the_same_bytes(journal: Journal, knee: Prescription) -> None:
    ledger = read_ledger(journal)
    assert pack(ledger, knee, "r", NOW) == pack(ledger, knee, "r", NOW)


def test_sealing_gets_the_whole_package(journal: Journal, knee: Prescription, tmp_path: Path) -> None:
    path = write_handover(journal, knee, tmp_path, None, seal=lambda content: content[::-1], now=NOW)
    assert path.name.endswith(".zip.sealed")
    assert read_handover(path.read_bytes()[::-1]).prescription == knee


def test_damage_is_one_clear_line(journal: Journal, knee: Prescription, tmp_path: Path) -> None:
    sound = write_handover(journal, knee, tmp_path, "<html></html>", now=NOW).read_bytes()
    dice = random.Random(5)
    damaged = [b"", b"no zip", sound[: len(sound) // 2], sound[100:]]
    for _ in range(60):
        content = bytearray(sound)
        for _ in range(3):
            content[dice.randrange(len(content))] ^= 1 << dice.randrange(8)
        damaged.append(bytes(content))
    refused = 0
    for content in damaged:
        try:
            back = read_handover(content)
        except HandoverError as error:
            refused += 1
            assert "\n" not in str(error) and error.remedy
        else:  # the flipped bits were in the zip's own times or attributes
            assert repr(back.ledger) == repr(read_ledger(journal))
    assert refused > 40


@pytest.mark.parametrize("change", ["table", "format", "missing", "columns"])
def test_a_package_that_was_changed_is_refused(
    journal: Journal, knee: Prescription, tmp_path: Path, change: str
) -> None:
    files = unzip(write_handover(journal, knee, tmp_path, None, now=NOW))
    if change == "table":
        files["ratings.csv"] = files["ratings.csv"].replace(b"pain,2", b"pain,0")
    elif change == "missing":
        del files["sets.csv"]
    else:
        package = json.loads(files["datapackage.json"])
        if change == "format":
            package["musclewood"]["format"] = "musclewood-handover/9"
        else:
            files["sets.csv"] = files["sets.csv"].replace(b"set_number", b"number_of_set", 1)
            digest = hashlib.sha256(files["sets.csv"]).hexdigest()
            package["resources"][1]["hash"] = f"sha256:{digest}"
        files["datapackage.json"] = json.dumps(package).encode()
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    with pytest.raises(HandoverError):
        read_handover(buffer.getvalue())


def test_an_empty_journal_makes_a_package_too(knee: Prescription) -> None:
    back = read_handover(pack(Ledger(()), knee, None, NOW))
    assert back.ledger.sessions == () and back.report_html is None
