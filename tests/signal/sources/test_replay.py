"""Recordings: what is read, and that whatever is damaged gives one clear line and nothing else."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from edfio import Edf, EdfAnnotation, EdfSignal
from musclewood.signal.errors import RecordingError
from musclewood.signal.recordings.recording import Gap, Recording
from musclewood.signal.sources import Source
from musclewood.signal.sources.replay import ReplaySource, read_recording

RATE_HZ = 1000.0


def table(rows: int = 1000, *, step_s: float | None = 0.001, channels: int = 2) -> list[str]:
    """Lines of a sound CSV."""
    random = np.random.default_rng(1)
    names = [f"muscle {number}" for number in range(1, channels + 1)]
    lines = [",".join(names if step_s is None else ["time_s", *names])]
    for row in range(rows):
        cells = [f"{value:.3f}" for value in 20.0 * random.standard_normal(channels)]
        lines.append(",".join(cells if step_s is None else [f"{row * step_s:.4f}", *cells]))
    return lines


def edf_bytes(*, rate_hz: float = RATE_HZ, seconds: int = 3, unit: str = "uV", annotated: bool = True) -> bytes:
    random = np.random.default_rng(2)
    signals = [
        EdfSignal(
            20.0 * random.standard_normal(round(seconds * rate_hz)),
            rate_hz,
            label=label,
            physical_dimension=unit,
            physical_range=(-400, 400),
        )
        for label in ("vastus", "biceps")
    ]
    if not annotated:
        return Edf(signals).to_bytes()
    return Edf(signals, annotations=[EdfAnnotation(1.0, 0.5, "contraction")]).to_bytes()


def write(folder: Path, content: str | bytes | list[str], name: str = "recording.csv") -> Path:
    path = folder / name
    if isinstance(content, list):
        content = "\n".join(content) + "\n"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


# --- what is read -----------------------------------------------------------------------------------------------


def test_csv_with_times(tmp_path: Path) -> None:
    recording = read_recording(write(tmp_path, table()))
    assert recording.rate_hz == RATE_HZ
    assert recording.labels == ("muscle 1", "muscle 2")
    assert recording.samples_uv.shape == (1000, 2)
    assert recording.gaps == ()
    assert recording.duration_s == pytest.approx(1.0)


@pytest.mark.parametrize(("unit", "factor"), [("uV", 1.0), ("µV", 1.0), ("mV", 1e3), ("V", 1e6), ("mv", 1e3)])
def test_csv_units(tmp_path: Path, unit: str, factor: float) -> None:
    path = write(tmp_path, table(step_s=None, channels=1))
    plain = read_recording(path, rate_hz=500.0)
    scaled = read_recording(path, rate_hz=500.0, unit=unit)
    assert scaled.rate_hz == 500.0
    np.testing.assert_allclose(scaled.samples_uv, factor * plain.samples_uv)


@pytest.mark.parametrize("rate_hz", [100.0, 250.0, 1000.0, 1259.26, 2148.15])
@pytest.mark.parametrize("decimals", [4, 6])
def test_rate_is_found_from_rounded_times(tmp_path: Path, rate_hz: float, decimals: int) -> None:
    lines = ["time_s,emg"] + [f"{row / rate_hz:.{decimals}f},{row % 7 - 3}" for row in range(4000)]
    assert read_recording(write(tmp_path, lines)).rate_hz == pytest.approx(rate_hz, rel=1e-3)


def test_spreadsheet_separators_byte_order_mark_and_blank_lines(tmp_path: Path) -> None:
    lines = [line.replace(",", ";") for line in table()]
    recording = read_recording(write(tmp_path, "\ufeff" + "\r\n".join(["", *lines, "", ""])))
    assert recording.samples_uv.shape == (1000, 2)


def test_missing_samples_become_gaps(tmp_path: Path) -> None:
    lines = table()
    recording = read_recording(write(tmp_path, lines[:301] + lines[308:601] + lines[602:]))
    assert recording.gaps == (Gap(300, 7), Gap(593, 1))
    assert recording.duration_s == pytest.approx(1.0)


@pytest.mark.parametrize(("unit", "factor"), [("uV", 1.0), ("mV", 1e3), ("V", 1e6)])
def test_edf_units_and_annotations(tmp_path: Path, unit: str, factor: float) -> None:
    recording = read_recording(write(tmp_path, edf_bytes(unit=unit), "recording.edf"))
    assert recording.labels == ("vastus", "biceps")
    assert recording.rate_hz == RATE_HZ
    expected = np.random.default_rng(2)
    vastus = 20.0 * expected.standard_normal(3000) * factor
    assert np.max(np.abs(recording.samples_uv[:, 0] - vastus)) <= 0.51 * factor * 800.0 / 65535.0


def discontinuous(shift_s: float) -> bytes:
    """An EDF+D file whose second and later records start `shift_s` later than they should."""
    content = bytearray(edf_bytes())
    content[192:197] = b"EDF+D"
    for number in range(1, 3):
        plain = f"+{number}\x14\x14".encode()
        place = content.index(plain)
        later = f"+{number + shift_s:g}\x14\x14".encode()
        room = content[place : place + 40]
        rest = bytes(room[len(plain) :]).rstrip(b"\x00")
        fresh = (later + rest).ljust(len(room), b"\x00")
        content[place : place + 40] = fresh[:40]
    return bytes(content)


def test_gaps_between_records_of_edf_plus_d(tmp_path: Path) -> None:
    recording = read_recording(write(tmp_path, discontinuous(0.25), "recording.edf"))
    assert recording.gaps == (Gap(1000, 250),)
    assert len(recording.samples_uv) == 3000


def test_channels_can_be_chosen_by_label_or_number(tmp_path: Path) -> None:
    path = write(tmp_path, table())
    both = read_recording(path)
    for chosen in (["muscle 2"], [1]):
        one = read_recording(path, channels=chosen)
        assert one.labels == ("muscle 2",)
        np.testing.assert_array_equal(one.samples_uv[:, 0], both.samples_uv[:, 1])
    with pytest.raises(RecordingError, match="choose among: 0 muscle 1, 1 muscle 2"):
        read_recording(path, channels=[5])


# --- what is played ---------------------------------------------------------------------------------------------


def recorded(gaps: tuple[Gap, ...] = ()) -> Recording:
    return Recording(np.arange(1000.0)[:, np.newaxis], RATE_HZ, ("emg",), gaps)


@pytest.mark.parametrize("step_s", [0.0007, 1 / 60, 0.25, 5.0])
@pytest.mark.parametrize("gaps", [(), (Gap(100, 50), Gap(101, 3), Gap(999, 400))])
def test_every_sample_is_played_once_at_its_time(step_s: float, gaps: tuple[Gap, ...]) -> None:
    source: Source = ReplaySource(recorded(gaps))
    assert source.kind == "replay" and not source.envelope and source.labels == ("emg",)
    source.start()
    blocks, polls = [], 0
    while not source.ended:
        blocks += source.poll(step_s)
        polls += 1
    np.testing.assert_array_equal(np.concatenate([block.samples_uv for block in blocks])[:, 0], np.arange(1000.0))
    place = 0
    for block in blocks:
        place += block.lost
        assert block.start_s == pytest.approx(place / RATE_HZ)
        place += len(block.samples_uv)
    assert sum(block.lost for block in blocks) == sum(gap.lost for gap in gaps)
    whole_s = (1000 + sum(gap.lost for gap in gaps)) / RATE_HZ
    assert polls == pytest.approx(max(1.0, whole_s / step_s), abs=1.01), "silence takes its time"
    assert source.poll(1.0) == []


def test_a_stopped_replay_plays_nothing() -> None:
    source = ReplaySource(recorded())
    source.poll(0.1)
    source.stop()
    assert source.ended and source.poll(0.1) == []


# --- what is refused --------------------------------------------------------------------------------------------


def changed(row: int, text: str) -> list[str]:
    lines = table()
    lines[row] = text
    return lines


def spliced(position: int, replacement: bytes) -> bytes:
    content = bytearray(edf_bytes())
    content[position : position + len(replacement)] = replacement
    return bytes(content)


SIGNALS = 3  # of the EDF above: two of muscle, one of annotations


def field(offset: int, width: int, signal: int, text: str) -> bytes:
    """The EDF with one field of one signal's header replaced."""
    return spliced(256 + SIGNALS * offset + width * signal, text.ljust(width).encode("latin-1"))


CSV_FAULTS: dict[str, tuple[str | bytes | list[str], str]] = {
    "empty": ("", "the file is empty"),
    "only blanks": ("\n \n\n", "the file is empty"),
    "only a byte order mark": ("\ufeff", "the file is empty"),
    "binary rubbish": (bytes(range(256)) * 20, "not text"),
    "zeros": (b"\0" * 5000, "not text"),
    "utf-16": ("time_s,emg\n0,1\n".encode("utf-16"), "not text"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + b"\xff\xd8" * 200, "not text"),
    "only a header": (["time_s,emg"], "too few samples"),
    "two rows": (table(2), "too few samples"),
    "a few rows": (table(100), "too few samples"),
    "unnamed column": (changed(0, "time_s,,muscle 2"), "row 1, column 2: the column has no name"),
    "two columns of one name": (changed(0, "time_s,emg,emg"), "names two columns"),
    "two columns of time": (changed(0, "time_s,time_s,emg"), "names two columns"),
    "only times": ([line.split(",")[0] for line in table()], "there is no channel"),
    "short row": (changed(500, "0.499,1.0"), "row 501: there are 2 cells under 3"),
    "long row": (changed(500, "0.499,1.0,2.0,3.0"), "row 501: there are 4 cells under 3"),
    "a word": (changed(500, "0.499,1.0,oops"), "row 501, column 'muscle 2': 'oops' is not a finite number"),
    "infinite": (changed(500, "0.499,1.0,-inf"), "row 501, column 'muscle 2'"),
    "overflowing": (changed(500, "0.499,1.0,1e999"), "row 501, column 'muscle 2'"),
    "decimal commas": ([line.replace(".", "'") for line in table()], "row 2, column 'time_s'"),
    "hexadecimal": (changed(500, "0.499,0x1F,1.0"), "row 501, column 'muscle 1'"),
    "time stands still": (changed(500, "0.498,1.0,1.0"), "time does not advance"),
    "time runs back": (changed(500, "0.1,1.0,1.0"), "time does not advance"),
    "time is not a time": (changed(500, "noon,1.0,1.0"), "row 501, column 'time_s': 'noon'"),
    "irregular times": (
        ["time_s,emg"] + [f"{0.001 * row + (0.0004 if row % 3 == 0 else 0.0):.5f},1" for row in range(900)],
        "not evenly spaced",
    ),
    "rate that drifts": (["time_s,emg"] + [f"{(row / 1000) ** 2:.9f},1" for row in range(900)], "not evenly spaced"),
    "hours of pause": ([*table(), "9000.0,1.0,1.0"], "are missing at"),
    "mostly missing": ([*table(100), "30.0,1.0,1.0"], "more samples are missing than present"),
    "hopelessly slow": (["time_s,emg"] + [f"{row},1" for row in range(50)], "the rate is 1 Hz"),
    "impossibly fast": (["time_s,emg"] + [f"{row * 1e-7:.9f},1" for row in range(50)], "the rate is"),
    "impossible amplitude": (changed(500, "0.499,1.0,1e12"), "no muscle does"),
    "unclosed quote": (changed(500, '0.499,"1.0,1.0'), "not proper CSV"),
    "stray quote": (changed(500, '0.499,"1"x,1.0'), "not proper CSV"),
    "html": ("<!DOCTYPE html>\n<html><body>404</body></html>\n", "row 2, column '<!DOCTYPE html>'"),
}

EDF_FAULTS: dict[str, tuple[bytes, str]] = {
    "empty": (b"", "the file is empty"),
    "one byte": (b"0", "not an EDF file"),
    "binary rubbish": (bytes(range(256)) * 20, "not an EDF file"),
    "text": (b"time_s,emg\n" * 500, "not an EDF file"),
    "BDF": (b"\xffBIOSEMI" + edf_bytes()[8:], "not an EDF file"),
    "header cut": (edf_bytes()[:200], "not an EDF file"),
    "signal headers cut": (edf_bytes()[:700], "do not fit"),
    "no data": (edf_bytes()[:1024], "cut short"),
    "data cut": (edf_bytes()[:-1], "cut short"),
    "data cut in half": (edf_bytes()[:7000], "cut short"),
    "data too long": (edf_bytes() + b"\0" * 100, "longer than it says"),
    "no signals": (spliced(252, b"0   "), "do not fit"),
    "signals negative": (spliced(252, b"-3  "), "do not fit"),
    "signals too many": (spliced(252, b"9999"), "do not fit"),
    "signals no number": (spliced(252, b"many"), "number of signals is not a number"),
    "records unknown": (spliced(236, b"-1      "), "never closed"),
    "records none": (spliced(236, b"0       "), "there are no data records"),
    "records no number": (spliced(236, b"x       "), "number of data records is not a number"),
    "records infinite": (spliced(236, b"inf     "), "not a finite number"),
    "duration zero": (spliced(244, b"0       "), "duration of a data record is not positive"),
    "duration negative": (spliced(244, b"-1      "), "duration of a data record is not positive"),
    "duration no number": (spliced(244, b"one     "), "duration of a data record is not a number"),
    "duration not finite": (spliced(244, b"nan     "), "not a finite number"),
    "duration tiny": (spliced(244, b"1e-9    "), "the rate is"),
    "duration huge": (spliced(244, b"99999999"), "the rate is"),
    "samples none": (field(216, 8, 0, "0"), "a signal has no samples"),
    "samples no number": (field(216, 8, 0, "?"), "samples per data record is not a number"),
    "samples wrong": (field(216, 8, 0, "900"), "longer than it says"),
    "unit unknown": (field(96, 8, 0, "mmHg"), "channel 'vastus': the unit 'mmHg' is not known"),
    "unit empty": (field(96, 8, 1, ""), "channel 'biceps': the unit '' is not known"),
    "physical range empty": (field(112, 8, 0, "-400"), "its scale is empty"),
    "physical range no number": (field(112, 8, 0, "high"), "not a sound EDF file"),
    "physical range infinite": (field(112, 8, 0, "inf"), "finite|not a sound EDF file"),
    "digital range empty": (field(128, 8, 0, "-32768"), "its scale is empty|not a sound EDF file"),
    "digital range no number": (field(128, 8, 1, "0x7fff"), "not a sound EDF file"),
    "records overlap": (discontinuous(-0.5), "data record 2: it starts before the last one ended"),
    "hours of pause": (discontinuous(9000.0), "are missing"),
    "start times unreadable": (
        discontinuous(0.25).replace(b"+2.25\x14\x14", b"+x.25\x14\x14"),
        "data record 3: its start time cannot be read",
    ),
    "no annotations in EDF+D": (
        edf_bytes(annotated=False)[:192] + b"EDF+D" + edf_bytes(annotated=False)[197:],
        "must carry annotations",
    ),
}


def refused(path: Path, **settings: object) -> RecordingError:
    with pytest.raises(RecordingError) as caught:
        read_recording(path, **settings)  # type: ignore[arg-type]
    assert "\n" not in str(caught.value), "one line"
    assert caught.value.place and caught.value.remedy
    assert str(caught.value).startswith(path.name)
    return caught.value


@pytest.mark.parametrize("fault", CSV_FAULTS)
def test_damaged_csv(tmp_path: Path, fault: str) -> None:
    content, expected = CSV_FAULTS[fault]
    assert re.search(expected, str(refused(write(tmp_path, content))))


@pytest.mark.parametrize("fault", EDF_FAULTS)
def test_damaged_edf(tmp_path: Path, fault: str) -> None:
    content, expected = EDF_FAULTS[fault]
    assert re.search(expected, str(refused(write(tmp_path, content, "recording.edf"))))


def test_differing_rates_are_named(tmp_path: Path) -> None:
    signals = [
        EdfSignal(np.sin(np.arange(3 * rate) / 9.0), rate, label=label, physical_dimension="uV")
        for label, rate in (("fast", 1000), ("slow", 100))
    ]
    error = refused(write(tmp_path, Edf(signals).to_bytes(), "recording.edf"))
    assert "differing rates (fast 1000 Hz, slow 100 Hz)" in str(error)


def test_only_annotations(tmp_path: Path) -> None:
    content = Edf([], annotations=[EdfAnnotation(0.0, None, "note")]).to_bytes()
    assert "only annotations" in str(refused(write(tmp_path, content, "recording.edf")))


@pytest.mark.parametrize("name", ["recording.csv", "recording.edf"])
def test_what_is_no_file(tmp_path: Path, name: str) -> None:
    assert "there is no such file" in str(refused(tmp_path / name))
    (tmp_path / name).mkdir()
    assert "this is a folder" in str(refused(tmp_path / name))


def test_what_is_no_recording(tmp_path: Path) -> None:
    assert "no known kind of recording" in str(refused(write(tmp_path, "x", "recording.mp3")))


def test_rate_missing_contradicted_or_impossible(tmp_path: Path) -> None:
    untimed = write(tmp_path, table(step_s=None), "untimed.csv")
    assert "neither a rate nor a column 'time_s'" in str(refused(untimed))
    for rate_hz in (0.0, -1000.0, float("nan"), float("inf"), 1e9):
        assert "the rate is" in str(refused(untimed, rate_hz=rate_hz))
    timed = write(tmp_path, table(), "timed.csv")
    assert "the times say 1000 Hz but 2000 Hz was given" in str(refused(timed, rate_hz=2000.0))
    assert read_recording(timed, rate_hz=1000.0).rate_hz == 1000.0


def test_unknown_unit(tmp_path: Path) -> None:
    assert "use uV, mV or V" in str(refused(write(tmp_path, table()), unit="volts"))


@pytest.mark.parametrize(
    ("name", "sound"), [("recording.csv", lambda: "\n".join(table(700)).encode()), ("recording.edf", edf_bytes)]
)
def test_random_damage_is_refused_or_read_but_never_crashes(
    tmp_path: Path, full: bool, name: str, sound: Callable[[], bytes]
) -> None:
    """Bytes changed, cut, doubled and dropped at random, more often in the header."""
    random = np.random.default_rng(3)
    original = sound()
    refusals = 0
    for _ in range(2000 if full else 150):
        content = bytearray(original)
        reach = len(content) if random.random() < 0.4 else min(len(content), 1024)
        for _ in range(random.integers(1, 6)):
            place = int(random.integers(0, reach))
            length = int(random.integers(1, 20))
            match random.integers(0, 4):
                case 0:
                    content[place : place + 1] = random.bytes(1)
                case 1:
                    del content[place : place + length]
                case 2:
                    content[place:place] = content[place : place + length]
                case 3:
                    content[place : place + length] = random.bytes(length)
        try:
            recording = read_recording(write(tmp_path, bytes(content), name))
        except RecordingError as error:
            refusals += 1
            assert "\n" not in str(error)
        else:
            assert np.all(np.isfinite(recording.samples_uv))
    assert refusals > 20
