"""Prescriptions: what is read, what is refused, and how it is said."""

from __future__ import annotations

import random
import tomllib
from pathlib import Path
from typing import Any

import pytest
import tomli_w
from musclewood.profiles.errors import PrescriptionError, StorageError
from musclewood.profiles.orders.prescription import Prescription, dump, parse, read_text, write
from musclewood.profiles.orders.templates import template, template_names, template_text

KNEE = "weak-thigh-after-knee-operation"


def faults(text: str) -> dict[str, str]:
    """The faults of a text by key path, after checking what every fault must be."""
    with pytest.raises(PrescriptionError) as caught:
        parse(text)
    assert caught.value.faults
    for fault in caught.value.faults:
        assert "\n" not in str(fault) and fault.key_path and fault.problem and fault.remedy
    return {fault.key_path: f"{fault.problem}; {fault.remedy}" for fault in caught.value.faults}


def changed(old: str, new: str, name: str = KNEE) -> str:
    text = template_text(name)
    assert old in text, old
    return text.replace(old, new, 1)


@pytest.mark.parametrize("name", template_names())
def test_what_is_written_is_read_again_unchanged(name: str, tmp_path: Path) -> None:
    prescription = template(name)
    assert parse(dump(prescription)) == prescription
    write(prescription, tmp_path / "orders" / "p.toml")
    assert parse(read_text(tmp_path / "orders" / "p.toml")) == prescription


def test_all_faults_are_reported_at_once() -> None:
    text = changed("revision = 1", 'revision = "one"\nbirth_date = 1980-01-01')
    text = text.replace('patient = "HB-0042"', 'patient = "Mary Smith"')
    text = text.replace("pain_lighten = 3", "pain_lighten = 7")
    text = text.replace("hold_s = 5.0", "hold_s = 500")
    found = faults(text)
    assert set(found) == {"revision", "birth_date", "patient", "stop.pain_lighten", "exercises[0].hold_s"}
    assert found["exercises[0].hold_s"] == "got 500; allowed 0.3 to 60"
    assert "looks like a name" in found["patient"]
    assert found["revision"] == "got 'one'; use a whole number, allowed 1 to 9999"


@pytest.mark.parametrize(
    ("old", "new", "path", "words"),
    [
        ("hold_s = 5.0", "hold_seconds = 5.0", "exercises[0].hold_seconds", "did you mean 'hold_s'"),
        ("target_pct_mvc = 35.0", "target_pct_mvc = 65.0", "exercises[0].effort.target_pct_mvc", "allowed 25 to 55"),
        ("target_pct_mvc = 35.0", "target_pct_mvc = true", "exercises[0].effort.target_pct_mvc", "allowed 1 to 120"),
        ("target_pct_mvc = 35.0", "target_pct_mvc = nan", "exercises[0].effort.target_pct_mvc", "finite number"),
        ("ceiling_pct_mvc = 70.0", "ceiling_pct_mvc = 50.0", "exercises[0].effort.max_pct_mvc", "allowed up to 50"),
        ("tolerance_pct_mvc = 8.0", "tolerance_pct_mvc = 19.0", "exercises[0].effort.tolerance_pct_mvc", "up to 15"),
        ("rest_max_s = 12.0", "rest_max_s = 2.0", "exercises[0].scaling.rest_max_s", "allowed 6 to 600"),
        ('muscles = ["vastus-medialis"]', 'muscles = ["vastus"]', "exercises[0].muscles[0]", "vastus-medialis"),
        ('workshops = ["kiln", "ropewalk"]', 'workshops = ["Kiln!"]', "exercises[0].workshops[0]", "'kiln'"),
        (
            'workshops = ["kiln", "ropewalk"]',
            'workshops = ["kiln", "kiln"]',
            "exercises[0].workshops",
            "list each once",
        ),
        ('kind = "hold"', 'kind = "squat"', "exercises[0].kind", "one of hold"),
        ('kind = "hold"\n', "", "exercises[0].kind", "missing"),
        ("review = 2026-12-16", "review = 2026-11-25", "review", "later review date"),
        ("review = 2026-12-16", 'review = "2026-12-16"', "review", "without quotes"),
        ("reps_per_day = 90", "reps_per_day = 40", "ceilings.reps_per_day", "order 44"),
        ("sessions_per_week = 5", "sessions_per_week = 4", "ceilings.sessions_per_week", "order 5"),
        ('id = "thigh-quick"', 'id = "thigh-hold"', "exercises[1].id", "used twice"),
        ('timezone = "Europe/Prague"', 'timezone = "Mars/Base"', "timezone", "IANA"),
        ('days = ["mon", "tue"', 'days = ["mon", "mon"', "days", "once"),
        ('format = "musclewood-prescription/1"', 'format = "other/9"', "format", "musclewood-prescription/1"),
        ("rest_between_s = 30.0", "rest_between_s = 0.5", "calibration.rest_between_s", "allowed 1 to 180"),
        ("sets = 2", "sets = 2.5", "exercises[0].sets", "whole number"),
        ("sets = 2\n", "", "exercises[0].sets", "allowed 1 to 20"),
    ],
)
def test_a_fault_names_the_place_and_the_remedy(old: str, new: str, path: str, words: str) -> None:
    found = faults(changed(old, new))
    assert path in found, found
    assert words in found[path]


def test_parts_that_must_differ_or_match() -> None:
    name = "shoulder-out-of-balance"
    assert "already the channel" in faults(changed("channel = 1", "channel = 0", name))["muscles[1].channel"]
    one = changed('muscles = ["deltoid-middle", "trapezius-upper"]', 'muscles = ["deltoid-middle"]', name)
    assert "exactly 2" in faults(one)["exercises[0].muscles"]
    twice = changed('["deltoid-middle", "trapezius-upper"]', '["deltoid-middle", "deltoid-middle"]', name)
    assert "twice" in faults(twice)["exercises[0].muscles"]


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("Mary", "name"),
        ("Jan Novák", "name"),
        ("SMITH-0001", "name"),
        ("12.04.1980", "date"),
        ("1980-04-12", "date"),
        ("JS-1980", "year"),
        ("hb-0042", "clinic's code"),
        ("HB-0042 ", "clinic's code"),
        ("HB-0042\\n", "clinic's code"),
        ("", "clinic's code"),
    ],
)
def test_a_patient_is_a_clinic_code_and_nothing_else(value: str, words: str) -> None:
    assert words in faults(changed('patient = "HB-0042"', f'patient = "{value}"'))["patient"]


def test_no_field_holds_a_name_a_birth_date_or_a_place() -> None:
    forbidden = ("birth", "born", "surname", "first_name", "address", "city", "location", "phone", "email", "gender")
    for key in [*Prescription.model_fields, *Prescription.model_json_schema()["$defs"]]:
        assert not any(word in key.lower() for word in forbidden)
    for key in ("name", "birth_date", "location"):
        assert key in faults(f"{key} = 'x'\n" + template_text(KNEE))


def test_broken_toml_names_line_and_column() -> None:
    found = faults(changed("revision = 1", "revision = = 1"))
    (place,) = found
    line = template_text(KNEE).splitlines().index("revision = 1") + 1
    assert place == f"line {line}, column 12"


@pytest.mark.parametrize(
    "text",
    ["a = 1\na = 2", "a = 07", "a = { x = 1,\n y = 2, }", 'a = "\\e"', "a = [", "[" * 3000, "a = " + "[" * 3000],
)
def test_what_toml_1_0_does_not_allow_is_refused(text: str) -> None:
    faults(text)


def test_files_that_are_no_prescription(tmp_path: Path) -> None:
    def problem(path: Path) -> str:
        with pytest.raises(PrescriptionError) as caught:
            parse(read_text(path))
        return str(caught.value)

    assert "no file" in problem(tmp_path / "missing.toml")
    assert "folder" in problem(tmp_path)
    empty = tmp_path / "empty.toml"
    empty.write_bytes(b"")
    assert "empty" in problem(empty)
    latin = tmp_path / "latin.toml"
    latin.write_bytes(template_text(KNEE).replace("Hornbeam", "Hainbüche").encode("latin-1"))
    assert problem(latin).startswith("line 10: the text is not UTF-8")
    wide = tmp_path / "wide.toml"
    wide.write_bytes(template_text(KNEE).encode("utf-16"))
    assert "UTF-8" in problem(wide)
    huge = tmp_path / "huge.toml"
    huge.write_bytes(b"# " + b"x" * 2_000_000)
    assert "more than 1000000 bytes" in problem(huge)
    marked = tmp_path / "marked.toml"
    marked.write_bytes(b"\xef\xbb\xbf" + template_text(KNEE).encode())
    assert parse(read_text(marked)) == template(KNEE)


def test_replacing_a_file_leaves_no_half_written_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "p.toml"
    write(template(KNEE), path)
    before = path.read_bytes()
    monkeypatch.setattr("os.replace", lambda *_: (_ for _ in ()).throw(OSError("power cut")))
    with pytest.raises(StorageError, match="power cut"):
        write(template("ankle-after-sprain"), path)
    assert path.read_bytes() == before


# Two hundred damaged prescriptions, and more under MUSCLEWOOD_FULL.

_WRONG: tuple[Any, ...] = (
    "x", "", -1, 0, 1e9, -2.5, True, [], [[]], {}, {"a": 1}, float("nan"), float("inf"), 10**30, "1", "ab\ncd",
    ["mon", 1],
)  # fmt: skip


def _places(table: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    entries = table.items() if isinstance(table, dict) else enumerate(table)
    found = []
    for key, value in entries:
        found.append((*path, key))
        if isinstance(value, dict | list):
            found += _places(value, (*path, key))
    return found


def _damage_document(document: dict[str, Any], dice: random.Random) -> None:
    place = dice.choice(_places(document))
    owner: Any = document
    for step in place[:-1]:
        owner = owner[step]
    what = dice.choice(("wrong value", "missing", "unknown"))
    if what == "missing" and isinstance(owner, dict):
        del owner[place[-1]]
    elif what == "unknown" and isinstance(owner, dict):
        owner[f"{place[-1]}_{dice.randrange(99)}"] = dice.choice(_WRONG)
    else:
        owner[place[-1]] = dice.choice(_WRONG)


def _damage_text(text: str, dice: random.Random) -> str:
    at = dice.randrange(len(text))
    return dice.choice(
        (
            text[:at],
            text[:at] + dice.choice('="[]{}#\\\n\x00€') + text[at:],
            text[:at] + text[at + dice.randrange(1, 40) :],
            text[at:] + text[:at],
        )
    )


def test_no_damage_brings_any_other_error(full: bool, tmp_path: Path) -> None:
    dice = random.Random(2026)
    wanted = 10_000 if full else 200
    refused = 0
    for _ in range(20 * wanted):
        if refused == wanted:
            break
        text = template_text(dice.choice(template_names()))
        if dice.random() < 0.6:
            document = tomllib.loads(text)
            for _ in range(dice.randrange(1, 4)):
                _damage_document(document, dice)
            damaged = tomli_w.dumps(document).encode()
        elif dice.random() < 0.7:
            damaged = _damage_text(text, dice).encode()
        else:
            raw = bytearray(text.encode())
            raw[dice.randrange(len(raw))] = dice.randrange(256)
            damaged = bytes(raw)
        path = tmp_path / "damaged.toml"
        path.write_bytes(damaged)
        try:
            prescription = parse(read_text(path))
        except PrescriptionError as error:
            refused += 1
            assert error.faults
            assert all("\n" not in str(fault) and len(str(fault)) < 600 for fault in error.faults)
        else:  # damage inside a comment or a sentence is none
            assert parse(dump(prescription)) == prescription
    assert refused == wanted
