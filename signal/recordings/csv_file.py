"""Recordings as CSV: a header row, an optional column `time_s`, every other column one channel."""

from __future__ import annotations

import csv
import io
from pathlib import Path

import numpy as np
from musclewood.signal.errors import RecordingError
from musclewood.signal.recordings.recording import Gap, Recording, checked, uv_per_unit
from musclewood.signal.stream.blocks import Samples
from numpy.typing import NDArray

TIME_COLUMN = "time_s"
JITTER = 0.25  # our choice: a sample may lie a quarter of a step beside its place on the grid of an even rate
LONGEST_GAP_S = 3600.0  # our choice: whoever pauses for longer has made two recordings


def read_csv(path: Path, rate_hz: float | None = None, unit: str = "uV") -> Recording:
    """Read a CSV file. Small gaps in `time_s` become lost samples.

    rate_hz: needed if there is no column `time_s`, refused if it contradicts one.
    Raises RecordingError, naming row (the header is row 1) and column.
    """
    name = path.name
    factor = uv_per_unit(unit, name)
    header, rows = _rows(path)
    values = _numbers(name, header, rows)
    if TIME_COLUMN not in header:
        if rate_hz is None:
            raise RecordingError(
                name, f"there is neither a rate nor a column {TIME_COLUMN!r}", "give the rate in Hz, or add that column"
            )
        return checked(Recording(values * factor, float(rate_hz), header), name)
    column = header.index(TIME_COLUMN)
    found_hz, gaps = _timing(name, values[:, column])
    if rate_hz is not None and abs(found_hz / rate_hz - 1.0) > 0.01:
        raise RecordingError(
            f"{name}, column {TIME_COLUMN!r}",
            f"the times say {found_hz:g} Hz but {rate_hz:g} Hz was given",
            "leave the rate out, or remove the column",
        )
    labels = header[:column] + header[column + 1 :]
    return checked(Recording(np.delete(values, column, axis=1) * factor, found_hz, labels, gaps), name)


def _rows(path: Path) -> tuple[tuple[str, ...], list[tuple[int, list[str]]]]:
    """The header and every row that is not blank, with its number in the file."""
    name = path.name
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise RecordingError(name, "this is not text", "give a CSV file in UTF-8") from None
    if "\0" in text:
        raise RecordingError(name, "this is not text", "give a CSV file in UTF-8")
    if not text.strip():
        raise RecordingError(name, "the file is empty", "record again, or export the file again")
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_delimiter(text), strict=True)
    try:
        numbered = [(reader.line_num, row) for row in reader]
    except csv.Error as error:
        raise RecordingError(f"{name}, row {reader.line_num}", f"not proper CSV ({error})", "mend the quotes") from None
    numbered = [(number, row) for number, row in numbered if any(cell.strip() for cell in row)]
    number, first = numbered[0]
    header = tuple(cell.strip() for cell in first)
    _check_header(f"{name}, row {number}", header)
    return header, numbered[1:]


def _delimiter(text: str) -> str:
    """Comma, or what a spreadsheet writes instead of it: whichever stands in the first line that is not blank."""
    first = next(line for line in text.splitlines() if line.strip())
    return next((mark for mark in (",", ";", "\t") if mark in first), ",")


def _check_header(place: str, header: tuple[str, ...]) -> None:
    if any(_is_number(cell) for cell in header):
        raise RecordingError(place, "the header row is missing", "add a first row that names every column")
    for position, cell in enumerate(header, start=1):
        if not cell:
            raise RecordingError(f"{place}, column {position}", "the column has no name", "name every column")
        if header.count(cell) > 1:
            raise RecordingError(
                f"{place}, column {position}", f"{cell[:40]!r} names two columns", "rename one of them"
            )


def _numbers(name: str, header: tuple[str, ...], rows: list[tuple[int, list[str]]]) -> Samples:
    """Every cell as a number, or the first that is none."""
    for number, row in rows:
        if len(row) != len(header):
            raise RecordingError(
                f"{name}, row {number}",
                f"there are {len(row)} cells under {len(header)} column names",
                "give every row one cell per column",
            )
    try:
        values = np.array([row for _, row in rows], dtype=np.float64).reshape(len(rows), len(header))
    except ValueError:
        values = None
    if values is None or not np.all(np.isfinite(values)):
        raise _first_bad_cell(name, header, rows)
    return values


def _first_bad_cell(name: str, header: tuple[str, ...], rows: list[tuple[int, list[str]]]) -> RecordingError:
    for number, row in rows:
        for label, cell in zip(header, row, strict=True):
            if not _is_number(cell) or not np.isfinite(float(cell)):
                problem = f"{cell.strip()[:40]!r} is not a finite number" if cell.strip() else "the cell is empty"
                return RecordingError(
                    f"{name}, row {number}, column {label[:40]!r}",
                    problem,
                    "write a number with a decimal point, or leave the whole row out",
                )
    raise AssertionError("some cell must be bad")


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def _timing(name: str, time_s: NDArray[np.float64]) -> tuple[float, tuple[Gap, ...]]:
    """The even rate behind the times, and the gaps in them."""
    place = f"{name}, column {TIME_COLUMN!r}"
    if len(time_s) < 3:
        raise RecordingError(place, "there are too few samples", "record at least 0.5 s")
    steps = np.diff(time_s)
    backward = np.flatnonzero(steps <= 0.0)
    if len(backward):
        row = int(backward[0]) + 1
        raise RecordingError(
            place, f"time does not advance after {time_s[row - 1]:g} s (sample {row + 1})", "sort the rows by time"
        )
    step_s = _even_step(steps)
    places = np.rint(steps / step_s)
    off = np.abs(steps - places * step_s) > JITTER * step_s * np.maximum(1.0, 0.01 * places)
    if np.any(off | (places < 1)):
        worst = int(np.flatnonzero(off | (places < 1))[0])
        raise RecordingError(
            place,
            f"samples are not evenly spaced: {steps[worst]:g} s at {time_s[worst]:g} s, elsewhere {step_s:g} s",
            "resample to an even rate",
        )
    wide = np.flatnonzero(places > 1)
    if len(wide) and float(np.max(steps)) > LONGEST_GAP_S:
        longest = int(np.argmax(steps))
        raise RecordingError(
            place, f"{steps[longest]:g} s are missing at {time_s[longest]:g} s", "split it into two recordings"
        )
    if np.sum(places[wide] - 1) > len(time_s):
        raise RecordingError(place, "more samples are missing than present", "give the whole recording")
    return _tidy(1.0 / step_s), tuple(Gap(int(index) + 1, int(places[index]) - 1) for index in wide)


def _even_step(steps: NDArray[np.float64]) -> float:
    """The usual step: the median finds it, the mean over undisturbed stretches sharpens it.

    Times printed with few decimals hop between two neighbouring steps, so the median alone may be off by a digit.
    """
    usual = float(np.median(steps))
    near = steps[np.abs(steps - usual) < 0.5 * usual]
    return float(np.mean(near))


def _tidy(rate_hz: float) -> float:
    """A whole number of Hz, if the times mean one within their rounding (1 in 10,000)."""
    whole = round(rate_hz)
    return float(whole) if whole and abs(rate_hz / whole - 1.0) < 1e-4 else rate_hz
