"""Two thousand damaged and hostile files, one after the other: each gets its clear line, and nobody else is touched.

The threats by their names (T1 and so on) stand in DEVELOPERS.md, 'Who may do what to whom'.
"""

from __future__ import annotations

import os
import random
import re
import shutil
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hostile_files import hostile_name, hostile_payload, hostile_toml, mutated
from musclewood.profiles.orders.prescription import dump
from musclewood.profiles.trust.key_file import LOWEST, lock
from musclewood.profiles.trust.keys import ClinicKeys
from musclewood.profiles.trust.signature import sign
from musclewood.signal.recordings.recording_file import RecordingFile
from musclewood.signal.stream.blocks import Block
from watched_clinic import KNEE, NOW, order_for
from watched_clinic import handover as sound_handover

MOST_MB, MOST_CPU_S, MOST_LINES = 512.0, 2.0, 31
STRANGER = ClinicKeys(bytes(range(1, 33)))
_CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f\x80-\x9f\u202a-\u202e\u2066-\u2069]")


def count(full: bool, share: float) -> int:
    return round((2000 if full else 20) * share)


def holds(ran: Any, what: object, codes: tuple[int, ...] = (0, 1)) -> None:
    """What must be true of every command, whatever it was given."""
    assert ran.code in codes, f"{what}: exit {ran.code}\n{ran.said[:600]}"
    assert "inside the program" not in ran.said and "Traceback" not in ran.said, f"{what}\n{ran.said[:900]}"
    assert not _CONTROL.search(ran.said), f"{what}: {ran.said[:300]!r}"
    wrong = [line for line in ran.said.splitlines() if line.startswith(("musclewood: ", "refused: ", "set aside: "))]
    assert len(wrong) <= MOST_LINES and all(len(line) < 1100 for line in wrong), what
    assert ran.code == 0 or wrong, f"{what}: exit {ran.code} without a line\n{ran.said[:300]}"
    assert ran.memory_mb < MOST_MB, f"{what}: {ran.memory_mb:.0f} MB"
    assert ran.cpu_s < MOST_CPU_S, f"{what}: {ran.cpu_s:.2f} s"


@pytest.mark.full_size
def test_t1_a_hand_over_of_a_broken_or_hostile_computer_stops_nobody_else(
    bed: Any, nursery: Any, full: bool, tmp_path: Path
) -> None:
    good = [bed.patient(f"HB-{3000 + number}") for number in range(200 if full else 4)]
    bad = [bed.patient(f"XX-{100 + number}") for number in range(12 if full else 2)]
    for computer in (*good, *bad):
        bed.put(computer.sealed(sound_handover(computer.patient)), computer.patient)
    bed.collect()
    with bed.clinic.naming() as first:
        assert len(first) == len(good) + len(bad)
    desk = ("desk", "--desk", bed.clinic.root)
    loose = tmp_path / "loose"
    loose.mkdir()
    chance = random.Random(1)
    named: list[str] = []
    for number in range(count(full, 0.35)):
        computer = chance.choice(bad)
        payload = hostile_payload(chance, sound_handover(computer.patient))
        sealed = computer.sealed(payload)
        if chance.random() < 0.15:
            sealed = mutated(chance, sealed)
        path = bed.put(sealed, computer.patient)
        ran = nursery(*desk, "collect")
        holds(ran, f"collect {number}")
        named += re.findall(r"^(?:received|set aside): hand-over (\d+ of XX-\d+)", ran.said, re.MULTILINE)
        path.unlink()  # what is damaged on the way would be refused again and again
        if number % 10 == 0:
            (loose / f"{computer.patient}-{number:08x}-000001.zip").write_bytes(payload)
            holds(nursery("report", loose / f"{computer.patient}-{number:08x}-000001.zip"), f"report {number}")
            holds(nursery(*desk, "patients"), f"patients {number}")
    assert len(named) == len(set(named)), "one was named twice"
    for computer in good:
        bed.put(computer.sealed(sound_handover(computer.patient)), computer.patient)
    ran = nursery(*desk, "collect")
    assert ran.code == 0 and ran.said.count("received: ") == len(good), ran.said[:600]
    listed = nursery(*desk, "patients").said
    for computer in good:
        assert re.search(rf"^{computer.patient}: order 1, last hand-over 20", listed, re.MULTILINE), computer.patient
    for computer in random.Random(2).sample(good, min(len(good), 20)):
        assert nursery(*desk, "report", computer.patient).code == 0
    for computer in bad:  # a later good one heals what was set aside
        bed.put(computer.sealed(sound_handover(computer.patient, 3)), computer.patient)
    assert nursery(*desk, "collect").code == 0
    assert "set aside" not in nursery(*desk, "patients").said
    _caseload_keeps_the_good(bed, nursery, loose, len(good) + len(bad))


def _caseload_keeps_the_good(bed: Any, nursery: Any, loose: Path, patients: int) -> None:
    pytest.importorskip("duckdb")
    for path in loose.iterdir():
        shutil.copy(path, bed.clinic.root / "handovers" / path.name.replace("XX-", "YY-"))
    ran = nursery("report", "--caseload", bed.clinic.root / "handovers", "--into", bed.root / "caseload")
    assert "inside the program" not in ran.said and ran.code in (0, 1), ran.said[-900:]
    told = re.search(r"\((\d+) patients", ran.said)
    assert told and int(told[1]) >= patients
    table = (bed.root / "caseload" / "patients.csv").read_text("utf-8")
    assert table.count("HB-3") >= patients - 12 and ran.memory_mb < 2 * MOST_MB


@pytest.mark.full_size
def test_t2_a_prescription_that_is_none_changes_nothing_at_home(nursery: Any, full: bool, tmp_path: Path) -> None:
    chance, home, clinic = random.Random(3), tmp_path / "patient", ClinicKeys(bytes(range(32)))
    sound = dump(order_for("HB-0042")).encode()
    first = tmp_path / "first.toml"
    first.write_bytes(sign(sound, clinic))
    from musclewood.profiles.trust.words import to_words

    paired = nursery("take", first, "--home", home, "--words", " ".join(to_words(clinic.identity.fingerprint)))
    assert paired.code == 0, paired.said
    kept = (home / "prescriptions" / "HB-0042.toml").read_bytes()
    for number in range(count(full, 0.225)):
        content = hostile_toml(chance, sound)
        if chance.random() < 0.5:
            with suppress(ValueError):  # a text that has parts of a signature in it is not signed
                content = sign(content, STRANGER if chance.random() < 0.7 else clinic)
            if chance.random() < 0.3:
                content = mutated(chance, content, 1)
        path = tmp_path / "letter.toml"
        path.write_bytes(content)
        holds(nursery("check", path), f"check {number}")
        ran = nursery("take", path, "--home", home)
        holds(ran, f"take {number}")
        if ran.code:
            assert (home / "prescriptions" / "HB-0042.toml").read_bytes() == kept, number
        kept = (home / "prescriptions" / "HB-0042.toml").read_bytes()


@pytest.mark.full_size
def test_t3_a_key_file_that_is_none_is_refused(bed: Any, nursery: Any, full: bool) -> None:
    chance, desk = random.Random(4), ("desk", "--desk", bed.clinic.root)
    sound = lock(bed.keys, "twig lantern kettle plank", LOWEST).encode()
    for number in range(count(full, 0.075)):
        content = mutated(chance, sound) if chance.random() < 0.6 else hostile_toml(chance, sound)
        bed.clinic.key_path.write_bytes(content)
        holds(nursery(*desk, "key", "show"), f"key show {number}")
        order = ("prescribe", "--patient", "HB-0042", "--from", KNEE, "--set", "muscles.0.side=left", "--issue")
        ran = nursery(*desk, *order)
        holds(ran, f"prescribe {number}")


@pytest.mark.full_size
def test_t4_whoever_can_write_into_the_exchange_folder_cannot_stop_an_order(
    bed: Any, nursery: Any, full: bool, tmp_path: Path
) -> None:
    chance, desk, home = random.Random(5), ("desk", "--desk", bed.clinic.root), tmp_path / "patient"
    bed.patient("HB-0042")
    words = " ".join(bed.clinic.words())
    visit = ("exchange", bed.exchange, "--patient", "HB-0042", "--home", home)
    assert nursery(*visit, "--words", words).code == 0
    folder = bed.exchange / "to-home" / "HB-0042"
    revision = 1
    for number in range(count(full, 0.15) // 2):
        sound = sign(
            dump(order_for("HB-0042").model_copy(update={"revision": chance.randint(1, 9999)})).encode(), STRANGER
        )
        for _ in range(chance.randint(1, 4)):
            _litter(chance, folder / f"{hostile_name(chance, 'HB-0042')}.prescription.toml", sound, tmp_path)
        _litter(chance, bed.exchange / "to-clinic" / f"{chance.random()}.sealed", b"musclewood-sealed", tmp_path)
        ran = nursery(*desk, "prescribe", "--patient", "HB-0042", "--issue")
        revision += 1
        assert f"issued: revision {revision} for HB-0042" in ran.said and "not in the exchange" not in ran.said, (
            ran.said
        )
        holds(ran, f"prescribe {number}")
        ran = nursery(*visit)
        holds(ran, f"exchange {number}")
        assert f"prescription {revision} for HB-0042" in ran.said, ran.said[:900]
        holds(nursery(*desk, "collect"), f"collect {number}")
        if number % 20 == 19:
            shutil.rmtree(folder)
            folder.mkdir()
    assert (tmp_path / "patient" / "prescriptions" / "HB-0042.toml").exists()


def _litter(chance: random.Random, path: Path, sound: bytes, outside: Path) -> None:
    """Something that no sound program put there."""
    path.parent.mkdir(parents=True, exist_ok=True)
    if os.path.lexists(path):
        return
    match chance.randrange(7):
        case 0:
            path.write_bytes(b"")
        case 1:
            path.mkdir()
        case 2 if hasattr(os, "mkfifo"):
            os.mkfifo(path)
        case 3:
            path.symlink_to(outside / "passphrase.txt")
        case 4:
            path.write_bytes(b"x" * 3_000_000)
        case 5:
            path.write_bytes(mutated(chance, sound))
        case _:
            path.write_bytes(sound)


def _recordings(tmp_path: Path) -> list[tuple[str, bytes]]:
    samples = np.random.default_rng(6).normal(0, 30, (6000, 2))
    with RecordingFile(tmp_path / "sound.edf", rate_hz=1000.0, labels=("thigh", "calf"), started=NOW) as file:
        file.add(Block(samples, 0.0))
    rows = "\n".join(f"{number / 1000:.3f},{a:.2f},{b:.2f}" for number, (a, b) in enumerate(samples[:4000]))
    return [(".edf", (tmp_path / "sound.edf").read_bytes()), (".csv", f"time_s,thigh_uv,calf_uv\n{rows}\n".encode())]


@pytest.mark.full_size
@pytest.mark.filterwarnings("ignore")
def test_t5_a_recording_that_is_none_is_refused(nursery: Any, full: bool, tmp_path: Path) -> None:
    chance, sound = random.Random(7), _recordings(tmp_path)
    for number in range(count(full, 0.1)):
        ending, content = chance.choice(sound)
        path = tmp_path / f"recording{ending}"
        path.write_bytes(mutated(chance, content))
        holds(nursery("examine", path), f"examine {number}{ending}")


@pytest.mark.full_size
def test_t6_a_sensor_description_that_is_none_is_refused(nursery: Any, full: bool, tmp_path: Path) -> None:
    from importlib.resources import files

    sensors = files("musclewood.assets").joinpath("sensors")
    sound = [sensors.joinpath(name).read_bytes() for name in ("two-channel-raw.toml", "guide/every_key.toml")]
    chance = random.Random(8)
    for number in range(count(full, 0.1)):
        path = tmp_path / "sensor.toml"
        path.write_bytes(hostile_toml(chance, chance.choice(sound)))
        holds(nursery("check", path), f"check {number}")


@pytest.mark.parametrize("planted", ["two of one session", "a cell too long", "a naive date", "garbage"])
def test_each_known_way_is_set_aside_by_name_and_healed(bed: Any, nursery: Any, planted: str) -> None:
    """T1, the ways in which a desk was once closed for everybody."""
    import json

    from hostile_files import packed, rehashed, unpacked

    computer = bed.patient("HB-0042")
    files = unpacked(sound_handover("HB-0042"))
    package = json.loads(files["datapackage.json"])
    change: dict[str, Callable[[], dict[str, bytes]]] = {
        "garbage": lambda: {"datapackage.json": json.dumps(package | {"created": "garbage"}).encode()},
        "a naive date": lambda: {"datapackage.json": json.dumps(package | {"created": "2026-11-25"}).encode()},
        "a cell too long": lambda: {"sessions.csv": files["sessions.csv"].replace(b"a sensor", b"a" * 131_073)},
        "two of one session": lambda: {"sessions.csv": files["sessions.csv"].replace(b"\r\n2,", b"\r\n1,")},
    }
    bed.put(computer.sealed(packed(rehashed(files | change[planted]()))), "HB-0042")
    bed.collect()
    desk = ("desk", "--desk", bed.clinic.root)
    ran = nursery(*desk, "collect")
    assert ran.code == 1 and ran.said.startswith("set aside: hand-over 1 of HB-0042: ") and ran.said.count("\n") == 1
    assert "nothing new" in nursery(*desk, "collect").said
    assert "The last hand-over was set aside" in nursery(*desk, "patients").said
    bed.put(computer.sealed(sound_handover("HB-0042")), "HB-0042")
    assert "received: hand-over 2 of HB-0042" in nursery(*desk, "collect").said
    assert "set aside" not in nursery(*desk, "patients").said
