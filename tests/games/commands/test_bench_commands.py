"""From replayed recordings to an order that says where its values come from, unattended: one sensor moved, and two
channels."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from musclewood.games.__main__ import main
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.trust.key_file import LOWEST
from musclewood.profiles.visits.entries import ReferenceTest, SidesTest
from musclewood.profiles.visits.standing import latest
from musclewood.signal.recordings.recording_file import RecordingFile
from musclewood.signal.stream.blocks import Block

KNEE = "weak-thigh-after-knee-operation"
CODE = "HB-0042"
RATE_HZ = 500.0
Run = Callable[..., tuple[int, str]]


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Run:
    def command(*arguments: str | Path) -> tuple[int, str]:
        code = main(["desk", "--desk", str(tmp_path / "desk"), *map(str, arguments)])
        told = capsys.readouterr()
        return code, told.out + told.err

    return command


def recording(path: Path, seconds: float, *channels: tuple[float, tuple[tuple[float, float], ...]]) -> Path:
    """Noise of 3 µV, and of so many µV during the spans of each channel: an invented person whose truth is known."""
    random, count = np.random.default_rng(7), round(seconds * RATE_HZ)
    time_s = np.arange(count) / RATE_HZ
    samples = 3.0 * random.standard_normal((count, len(channels)))
    for place, (level_uv, spans) in enumerate(channels):
        for first, last in spans:
            inside = (time_s >= first) & (time_s < last)
            samples[inside, place] = level_uv * random.standard_normal(int(inside.sum()))
    labels = [f"muscle {number}" for number in range(1, len(channels) + 1)]
    started = datetime(2026, 11, 29, tzinfo=UTC)
    with RecordingFile(path, rate_hz=RATE_HZ, labels=labels, started=started) as tape:
        tape.add(Block(samples, 0.0))
    return path


def test_both_sides_with_one_sensor_that_is_moved(run: Run, tmp_path: Path) -> None:
    other = recording(tmp_path / "other.edf", 40, (200.0, ((8, 13.4), (19, 24.4), (30, 35.4))))
    involved = recording(tmp_path / "involved.edf", 44, (100.0, ((11.5, 17), (22.5, 28), (33.5, 39))))
    code, told = run(
        "test", CODE, "sides", "--from", KNEE, "--side", "left", "--rest", "3", "--unattended", "--fast",
        "--source", f"replay:{other}", "--then", f"replay:{involved}", "--initials", "AB",
    )  # fmt: skip
    assert code == 0, told
    found = latest(Clinic(tmp_path / "desk").visits.entries(CODE), SidesTest)
    assert found and isinstance(found.result, SidesTest) and found.entry.by == "AB"
    assert found.result.way == "moved sensor" and len(found.result.involved.trials) == 3
    assert found.result.deficit_pct == pytest.approx(50.0, abs=6.0)
    assert (found.result.involved.side, found.result.uninvolved.side) == ("left", "right")
    code, told = run("prescribe", "--patient", CODE, "--from", KNEE, "--filled")
    assert code == 0 and "filled: muscles.0.side = left: from the sides test of" in told and "by AB" in told


@pytest.mark.parametrize("at_once", [False, True])
def test_both_sides_with_two_channels(run: Run, tmp_path: Path, at_once: bool) -> None:
    """One after the other, or at once; up to an order that is signed."""
    first = ((8.0, 13.4), (19.0, 24.4), (30.0, 35.4))
    second = first if at_once else ((47.5, 53.0), (58.5, 64.0), (69.5, 75.0))
    taped = recording(tmp_path / "both.edf", 40 if at_once else 80, (100.0, second), (200.0, first))
    code, told = run(
        "test", CODE, "sides", "--from", KNEE, "--side", "left", "--rest", "3", "--unattended", "--fast",
        "--source", f"replay:{taped}", *(["--at-once"] if at_once else []),
    )  # fmt: skip
    assert code == 0, told
    found = latest(Clinic(tmp_path / "desk").visits.entries(CODE), SidesTest)
    assert found and isinstance(found.result, SidesTest)
    assert found.result.way == ("both at once" if at_once else "two channels")
    assert found.result.deficit_pct == pytest.approx(50.0, abs=6.0)
    secret = tmp_path / "passphrase.txt"
    secret.write_text("four quiet hornbeam leaves\n")
    secret.chmod(0o600)
    Clinic(tmp_path / "desk").make_key("four quiet hornbeam leaves", LOWEST)
    ways = ("--patient", CODE, "--from", KNEE, "--filled", "--issue", "--passphrase-file", secret)
    code, told = run("prescribe", *ways)
    assert code == 0 and "filled: muscles.0.side = left: from the sides test of" in told, told
    (order,) = Clinic(tmp_path / "desk").orders(CODE)
    assert (order.revision, order.muscles[0].side) == (1, "left")


def test_a_reference_recorded_and_played_again_gives_the_same(run: Run, tmp_path: Path) -> None:
    first = recording(tmp_path / "first.edf", 90, (150.0, ((7, 11.6), (43, 47.6), (79, 83.6))))
    kept = tmp_path / "kept.edf"
    ways = ("test", CODE, "reference", "--from", KNEE, "--side", "left", "--unattended", "--fast")
    code, told = run(*ways, "--source", f"replay:{first}", "--record", kept)
    assert code == 0, told
    again = run(*ways, "--source", f"replay:{kept}")[1]
    assert told.splitlines()[-2] == again.splitlines()[-2]
    found = latest(Clinic(tmp_path / "desk").visits.entries(CODE), ReferenceTest)
    assert found and isinstance(found.result, ReferenceTest)
    assert found.result.reference_uv == pytest.approx(150.0, rel=0.1)
    assert kept.stat().st_mode & 0o077 == 0
    assert run("bench", "--source", f"replay:{kept}", "--fast", "--seconds", "4")[1].count("µV") >= 3


def test_what_cannot_be_tested_is_said_in_one_line(run: Run, tmp_path: Path) -> None:
    short = recording(tmp_path / "short.edf", 5, (100.0, ()))
    ways = ("--from", KNEE, "--side", "left", "--unattended", "--fast", "--source", f"replay:{short}")
    assert run("test", CODE, "sides", *ways)[0] == 1
    for kind, why in (("opposite", "two channels"), ("ladder", "no reference is known")):
        code, told = run("test", CODE, kind, *ways)
        assert code == 1 and why in told and len(told.splitlines()) == 1
    assert not Clinic(tmp_path / "desk").visits.by_patient()


def test_pain_ends_a_test_without_a_result(run: Run, tmp_path: Path) -> None:
    short = recording(tmp_path / "short.edf", 5, (100.0, ()))
    code, told = run(
        "test", CODE, "sides", "--from", KNEE, "--side", "left", "--unattended", "--pain", "8", "--fast",
        "--source", f"replay:{short}",
    )  # fmt: skip
    assert code == 1 and "no result: pain" in told
