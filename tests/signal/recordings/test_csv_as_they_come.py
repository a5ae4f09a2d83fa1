"""CSV files as programs and spreadsheets write them: the same samples at the same times, and what was assumed is said.

The customs tried (tabs, semicolons, decimal commas, words for an empty cell, names of time columns) are common
practice, no source.
"""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from musclewood.games.__main__ import main
from musclewood.signal.errors import RecordingError
from musclewood.signal.recordings.examination import examine
from musclewood.signal.recordings.recording import Gap
from musclewood.signal.sources.replay import read_recording

SAMPLES = np.round(20.0 * np.random.default_rng(5).standard_normal((1000, 2)), 3)


def write(folder: Path, text: str, encoding: str = "utf-8") -> Path:
    path = folder / "as it came.csv"
    path.write_text(text, encoding=encoding, newline="")
    return path


def lines(
    mark: str = ",", *, header: str | None = "time_s,left,right", decimal: str = ".", time: bool = True
) -> list[str]:
    rows = [
        mark.join([*([f"{row / 1000.0:.3f}"] if time else []), *(f"{value:.3f}" for value in SAMPLES[row])])
        for row in range(len(SAMPLES))
    ]
    rows = [row.replace(".", decimal) for row in rows]
    return rows if header is None else [header.replace(",", mark), *rows]


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("decimal", [".", ","])
@pytest.mark.parametrize("header", ["time_s,left,right", None])
def test_every_custom_gives_the_same_samples(tmp_path: Path, mark: str, decimal: str, header: str | None) -> None:
    rows = lines(mark, header=header, decimal=decimal)
    if (mark, decimal) == (",", ","):
        rows = [",".join(f'"{cell}"' for cell in row.split(";")) for row in lines(";", header=header, decimal=",")]
    read = read_recording(write(tmp_path, "\r\n".join(rows) + "\r\n"))
    np.testing.assert_array_equal(read.samples_uv, SAMPLES)
    assert read.rate_hz == 1000.0 and read.gaps == ()
    assert read.labels == (("left", "right") if header else ("channel 2", "channel 3"))
    said = " ".join(read.assumed)
    assert ("decimals" in said) == (decimal == ",") and ("header" in said) == (header is None)


@pytest.mark.parametrize(
    ("name", "factor"),
    [
        ("Time", 1.0),
        ("t [s]", 1.0),
        ("time (ms)", 1e3),
        ("Zeit (s)", 1.0),
        ("timestamp_us", 1e6),
        ("ms", 1e3),
        ("elapsed", 1e3),
        ("Time (seconds)", 1.0),
    ],
)
def test_times_by_other_names(tmp_path: Path, name: str, factor: float) -> None:
    rows = [f"{name},emg", *(f"{factor * row / 1000.0:.6g},{SAMPLES[row, 0]}" for row in range(1000))]
    read = read_recording(write(tmp_path, "\n".join(rows)))
    assert read.rate_hz == pytest.approx(1000.0, rel=1e-3) and read.labels == ("emg",)
    assert any(name in each for each in read.assumed)


@pytest.mark.parametrize("empty", ["", "NULL", "NaN", "n/a", " "])
def test_an_empty_row_is_a_gap_and_never_a_shift(tmp_path: Path, empty: str) -> None:
    rows = lines(time=False, header="left,right")
    rows[301:304] = [f"{empty},{empty}"] * 3
    read = read_recording(write(tmp_path, "\n".join(rows)), rate_hz=1000.0)
    assert read.gaps == (Gap(300, 3),) and read.duration_s == 1.0
    np.testing.assert_array_equal(read.samples_uv, np.delete(SAMPLES, slice(300, 303), axis=0))


def test_an_empty_line_in_a_single_column_is_a_gap(tmp_path: Path) -> None:
    rows = ["emg", *(str(value) for value in SAMPLES[:, 0])]
    rows[501] = ""
    read = read_recording(write(tmp_path, "\n".join(rows) + "\n\n"), rate_hz=1000.0)
    assert read.gaps == (Gap(500, 1),) and read.duration_s == 1.0


def test_one_channel_alone_may_be_empty(tmp_path: Path) -> None:
    rows = lines()
    rows[400] = rows[400].rpartition(",")[0] + ","
    read = read_recording(write(tmp_path, "\n".join(rows)))
    assert read.gaps == () and np.isnan(read.samples_uv[399, 1]) and np.isnan(read.samples_uv).sum() == 1
    found = examine(read)
    assert found["assumed"] == list(read.assumed) and found["duration_s"] == 1.0


def test_a_missing_time_is_filled_in_by_its_neighbours(tmp_path: Path) -> None:
    rows = lines()
    rows[400] = "," + rows[400].partition(",")[2]
    read = read_recording(write(tmp_path, "\n".join(rows)))
    assert read.gaps == () and len(read.samples_uv) == 1000


def test_gaps_of_times_and_of_cells_add_up(tmp_path: Path) -> None:
    rows = lines()
    rows[301] = "0.300,,"
    del rows[303:308]
    read = read_recording(write(tmp_path, "\n".join(rows)))
    assert read.duration_s == pytest.approx(1.0) and sum(gap.lost for gap in read.gaps) == 6


def test_comments_counts_and_other_letters(tmp_path: Path) -> None:
    rows = ["# made by an amplifier", "Sample;EMG (µV)", *(f"{row};{SAMPLES[row, 0]}" for row in range(1000))]
    read = read_recording(write(tmp_path, "\n".join(rows), "cp1252"), rate_hz=1000.0)
    assert read.labels == ("EMG (µV)",)
    assert [word for word in ("comments", "counts", "1252") if word not in " ".join(read.assumed)] == []


def test_a_unit_in_the_name_is_not_passed_over(tmp_path: Path) -> None:
    rows = ["emg (mV)", *(str(value) for value in SAMPLES[:, 0])]
    assert "column 'emg (mV)' is read as uV" in read_recording(write(tmp_path, "\n".join(rows)), rate_hz=1e3).assumed


def test_a_channel_without_a_sample_is_refused(tmp_path: Path) -> None:
    rows = ["left,right", *(f"{value}," for value in SAMPLES[:, 0])]
    with pytest.raises(RecordingError, match="'right': there is no sample in it"):
        read_recording(write(tmp_path, "\n".join(rows)), rate_hz=1000.0)


def test_a_sound_file_assumes_nothing(tmp_path: Path) -> None:
    assert read_recording(write(tmp_path, "\n".join(lines()))).assumed == ()


def test_the_command_says_what_was_assumed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = write(tmp_path, "\n".join(lines(";", header=None, decimal=",")))
    assert main(["examine", str(path), "--json"]) == 0
    assert any("header" in each for each in json.loads(capsys.readouterr().out)["assumed"])
    assert main(["examine", str(path)]) == 0
    assert "assumed: decimals are parted by commas" in capsys.readouterr().out
