"""A recording can be read by others at any moment, keeps its time through losses, and says what it could not hold."""

from __future__ import annotations

import multiprocessing
import multiprocessing.synchronize
import os
import signal as process_signal
import time
from datetime import datetime
from pathlib import Path

import edfio
import numpy as np
import pytest
from musclewood.signal.recordings.recording_file import (
    BEYOND_RANGE,
    LOST,
    NOT_RECORDED,
    RecordingFile,
    mend,
    record_shape,
)
from musclewood.signal.sources.replay import read_recording
from musclewood.signal.stream.blocks import Block

STARTED = datetime(2026, 11, 25, 9, 30, 15)
RATE_HZ = 1000.0


def samples(seconds: float, rate_hz: float = RATE_HZ, channels: int = 2) -> np.ndarray:
    rng = np.random.default_rng(3)
    return rng.normal(0.0, 200.0, (round(seconds * rate_hz), channels))


def record(path: Path, data: np.ndarray, rate_hz: float = RATE_HZ, step: int = 10) -> RecordingFile:
    recording = RecordingFile(
        path, rate_hz=rate_hz, labels=["left", "right"][: data.shape[1]], started=STARTED, patient_code="HB-0042"
    )
    for start in range(0, len(data), step):
        recording.add(Block(data[start : start + step], start / rate_hz))
    return recording


def notes(edf: edfio.Edf, text: str) -> list[tuple[float, float | None]]:
    return [(note.onset, note.duration) for note in edf.annotations if note.text == text]


def test_samples_labels_time_and_code_come_back(tmp_path: Path) -> None:
    data = samples(3.0)
    with record(tmp_path / "a.edf", data) as recording:
        recording.annotate(1.25, 0.5, "contraction left")
        recording.annotate(2.0, None, "Übung: „Töpfern“")
    edf = edfio.read_edf(tmp_path / "a.edf")
    assert [signal.label for signal in edf.signals] == ["EMG left", "EMG right"]
    assert [signal.physical_dimension for signal in edf.signals] == ["uV", "uV"]
    for channel, signal in enumerate(edf.signals):
        assert signal.sampling_frequency == RATE_HZ
        assert np.abs(signal.data[:3000] - data[:, channel]).max() <= 0.05 + 1e-9  # half a step of 0.1 µV
    assert edf.startdate == STARTED.date() and edf.starttime == STARTED.time()
    assert notes(edf, "contraction left") == [(1.25, 0.5)]
    assert notes(edf, "Übung: „Töpfern“") == [(2.0, None)]
    assert notes(edf, NOT_RECORDED) == [(3.0, None)]  # the notes came last and needed a record of their own


def test_no_name_and_no_birth_date_has_a_place(tmp_path: Path) -> None:
    with record(tmp_path / "a.edf", samples(1.0)):
        pass
    assert (tmp_path / "a.edf").read_bytes()[8:88].decode().rstrip() == "HB-0042 X X X"


def test_header_sizes_follow_the_standard(tmp_path: Path) -> None:
    """256 bytes for the file and for each signal; int16 samples (Kemp & Olivan 2003)."""
    with record(tmp_path / "a.edf", samples(3.0)):
        pass
    content = (tmp_path / "a.edf").read_bytes()
    assert int(content[184:192]) == 1024 and content[192:197] == b"EDF+C" and int(content[236:244]) == 3
    assert len(content) == 1024 + 3 * 2 * (2 * 1000 + 800)


@pytest.mark.parametrize(
    ("rate_hz", "samples_in", "seconds"),
    [(1000.0, 1000, 1.0), (50.0, 50, 1.0), (1000 / 3, 1000, 3.0), (2000.5, 4001, 2.0), (1259.259, 1259, 0.999794)],
)
def test_records_hold_whole_samples(rate_hz: float, samples_in: int, seconds: float) -> None:
    assert record_shape(rate_hz) == (samples_in, seconds)


@pytest.mark.parametrize("rate_hz", [50.0, 333.25, 2000.0])
def test_other_rates_read_back(tmp_path: Path, rate_hz: float) -> None:
    data = samples(9.0, rate_hz, channels=1)
    with record(tmp_path / "a.edf", data, rate_hz):
        pass
    (signal,) = edfio.read_edf(tmp_path / "a.edf").signals
    assert signal.sampling_frequency == pytest.approx(rate_hz, rel=1e-6)
    assert np.abs(signal.data[: len(data)] - data[:, 0]).max() <= 0.051


def test_lost_samples_keep_their_place_and_are_named(tmp_path: Path) -> None:
    data = samples(4.0)
    recording = RecordingFile(tmp_path / "a.edf", rate_hz=RATE_HZ, labels=["left", "right"], started=STARTED)
    recording.add(Block(data[:500], 10.0))  # time counts from the first sample recorded
    recording.add(Block(data[700:3000], 10.7, lost=200))
    recording.add(Block(data[3500:], 13.5))  # a gap that the stream told by time alone
    recording.close()
    edf = edfio.read_edf(tmp_path / "a.edf")
    assert notes(edf, LOST) == [(0.5, 0.2), (3.0, 0.5)]
    written = edf.signals[0].data
    assert np.abs(written[700:3000] - data[700:3000, 0]).max() <= 0.051
    assert (written[500:700] == 0.0).all() and (written[3000:3500] == 0.0).all()
    assert len(written) == 4000


def test_the_last_part_of_a_second_is_kept_and_its_end_is_named(tmp_path: Path) -> None:
    data = samples(2.345)
    with record(tmp_path / "a.edf", data):
        pass
    edf = edfio.read_edf(tmp_path / "a.edf")
    assert len(edf.signals[0].data) == 3000
    assert np.abs(edf.signals[0].data[:2345] - data[:, 0]).max() <= 0.051
    assert notes(edf, NOT_RECORDED) == [(2.345, None)]


def test_what_is_beyond_the_range_is_named(tmp_path: Path) -> None:
    data = samples(3.0)
    data[1500, 1] = 9000.0
    with record(tmp_path / "a.edf", data):
        pass
    edf = edfio.read_edf(tmp_path / "a.edf")
    assert notes(edf, BEYOND_RANGE) == [(1.0, 1.0)]
    assert edf.signals[1].data[1500] == pytest.approx(3276.7)


def test_more_annotations_than_a_record_holds_all_arrive(tmp_path: Path) -> None:
    with record(tmp_path / "a.edf", samples(2.0)) as recording:
        for number in range(300):
            recording.annotate(number / 200, None, f"note {number}")
        recording.annotate(1.0, None, "x" * 500)
    texts = [note.text for note in edfio.read_edf(tmp_path / "a.edf").annotations]
    assert [text for text in texts if text.startswith("note")] == [f"note {number}" for number in range(300)]
    assert "x" * 120 in texts


def test_it_can_be_read_while_it_grows(tmp_path: Path) -> None:
    data = samples(5.5)
    recording = record(tmp_path / "a.edf", data)
    edf = edfio.read_edf(tmp_path / "a.edf")
    assert np.abs(edf.signals[0].data - data[:5000, 0]).max() <= 0.051
    recording.close()


def test_an_earlier_recording_is_never_overwritten(tmp_path: Path) -> None:
    record(tmp_path / "a.edf", samples(1.0)).close()
    with pytest.raises(FileExistsError):
        record(tmp_path / "a.edf", samples(1.0))


def _record_for_ever(path: Path, told: multiprocessing.synchronize.Event) -> None:
    recording = RecordingFile(path, rate_hz=RATE_HZ, labels=["left", "right"], started=STARTED)
    data, start = samples(10.0), 0
    while True:
        recording.add(Block(data[start % 10000 : start % 10000 + 100], start / RATE_HZ))
        start += 100
        if start == 5000:
            told.set()


def test_a_killed_program_leaves_a_readable_file(tmp_path: Path) -> None:
    """Killed at any point, again and again: whole records, and the samples that were written."""
    data = samples(10.0)
    context = multiprocessing.get_context("fork")
    for number in range(5):
        path, told = tmp_path / f"{number}.edf", context.Event()
        process = context.Process(target=_record_for_ever, args=(path, told))
        process.start()
        assert told.wait(20.0) and process.pid is not None
        time.sleep(0.003 * number)
        os.kill(process.pid, process_signal.SIGKILL)
        process.join()
        records = mend(path)
        assert records >= 5 and mend(path) == records
        edf = edfio.read_edf(path)
        assert len(edf.signals[0].data) == records * 1000
        for start in range(0, records * 1000, 10000):
            part = edf.signals[0].data[start : start + 10000]
            assert np.abs(part - data[: len(part), 0]).max() <= 0.051


@pytest.mark.parametrize("cut", [1, 5599, 5600, 5601])
def test_mending_cuts_a_part_of_a_record_and_counts_a_whole_one(tmp_path: Path, cut: int) -> None:
    path = tmp_path / "a.edf"
    record(path, samples(3.0)).close()
    whole = path.read_bytes()
    path.write_bytes(whole[:236] + b"2       " + whole[244:-cut])
    records = 3 - -(-cut // 5600)
    assert mend(path) == records
    assert len(edfio.read_edf(path).signals[0].data) == records * 1000


def test_another_reader_agrees(tmp_path: Path) -> None:
    pyedflib = pytest.importorskip("pyedflib")
    data = samples(3.0)
    with record(tmp_path / "a.edf", data) as recording:
        recording.annotate(1.25, 0.5, "contraction left")
    with pyedflib.EdfReader(str(tmp_path / "a.edf")) as reader:
        assert np.abs(reader.readSignal(1)[:3000] - data[:, 1]).max() <= 0.051
        onsets, durations, texts = reader.readAnnotations()
    assert (onsets[0], float(durations[0]), texts[0]) == (1.25, 0.5, "contraction left")


def test_what_was_recorded_can_be_replayed(tmp_path: Path) -> None:
    data = samples(3.0)
    with record(tmp_path / "a.edf", data):
        pass
    read = read_recording(tmp_path / "a.edf")
    assert read.rate_hz == RATE_HZ and np.abs(read.samples_uv - data).max() <= 0.051


def test_what_was_lost_is_lost_again_in_replay(tmp_path: Path) -> None:
    data = samples(3.345)
    recording = RecordingFile(tmp_path / "a.edf", rate_hz=RATE_HZ, labels=["left", "right"], started=STARTED)
    recording.add(Block(data[:500], 0.0))
    recording.add(Block(data[700:3000], 0.7, lost=200))
    recording.add(Block(data[3100:], 3.1))
    recording.close()
    read = read_recording(tmp_path / "a.edf")
    assert [(gap.before, gap.lost) for gap in read.gaps] == [(500, 200), (2800, 100)]
    measured = np.concatenate([data[:500], data[700:3000], data[3100:]])
    assert read.samples_uv.shape == measured.shape
    assert np.abs(read.samples_uv - measured).max() <= 0.051
