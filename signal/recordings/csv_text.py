"""The text of a CSV file as a table of numbers, whichever of its many customs it follows; NaN where a cell is empty.

Columns parted by comma, semicolon or tab; decimals by point or comma; with a header row or without; empty cells left
blank or filled by a word that says so. Whatever was not certain is noted in words.
"""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from musclewood.assets.saying import say
from musclewood.signal.errors import RecordingError
from musclewood.signal.stream.blocks import Samples

NOTHING = {"", "null", "none", "nan", "na", "n/a", "#n/a", "-", "--", "missing"}  # common practice, no source
COMMENTS = ("#", "%")
LOOKED_AT = 50  # lines from which the separator is told
MOSTLY_BLANK = 0.4  # of all lines: then they are only spacing, and no empty cells


@dataclass(frozen=True)
class Table:
    """Column names, values (rows, columns), the file's number of each row, and what was assumed."""

    names: tuple[str, ...]
    values: Samples
    lines: tuple[int, ...]
    assumed: tuple[str, ...]
    named: bool  # whether the file itself names its columns


def read_table(path: Path) -> Table:
    """Read all of a file.  Raises RecordingError, naming row (the first is row 1) and column."""
    name = path.name
    assumed: list[str] = []
    text = _text(path, assumed)
    rows = _rows(name, text, assumed)
    number, first = rows[0]
    header = tuple(cell.strip() for cell in first)
    named = not all(_value(cell) is not None for cell in header)
    if named:
        _check_header(f"{name}, row {number}", header)
        rows = rows[1:]
    else:
        header = tuple(f"channel {column}" for column in range(1, len(header) + 1))
        assumed.append(say("recording-assumed.no-header"))
    for number, row in rows:
        if len(row) != len(header):
            raise RecordingError(
                say("recording-at.row", name=name, number=number),
                say("recording.cells", count=len(row), count2=len(header)),
                say("mend.one-cell-each"),
            )
    return Table(header, _numbers(name, header, rows, assumed), tuple(line for line, _ in rows), tuple(assumed), named)


def _text(path: Path, assumed: list[str]) -> str:
    name, content = path.name, path.read_bytes()
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = content.decode("cp1252", errors="replace")
        if any(ord(mark) < 32 and mark not in "\t\r\n\f" for mark in text) or text.count("\ufffd"):
            raise RecordingError(name, say("recording.no-text"), say("mend.give-csv")) from None
        assumed.append(say("recording-assumed.other-letters"))
    if "\0" in text:
        raise RecordingError(name, say("recording.no-text"), say("mend.give-csv"))
    if not text.strip():
        raise RecordingError(name, say("recording.empty"), say("mend.record-or-export"))
    return text


def _rows(name: str, text: str, assumed: list[str]) -> list[tuple[int, list[str]]]:
    """Every row with its number in the file, comments and blank lines at either end left out."""
    mark = _separator(text)
    if mark != ",":
        assumed.append(say("recording-assumed.tabs") if mark == "\t" else say("recording-assumed.semicolons"))
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    try:
        rows = [(reader.line_num, row) for row in reader]
    except csv.Error as error:
        raise RecordingError(
            say("recording-at.row", name=name, number=reader.line_num),
            say("recording.no-proper-csv", error=error),
            say("mend.mend-quotes"),
        ) from None
    filled = [(number, row) for number, row in rows if row and not row[0].lstrip().startswith(COMMENTS)]
    comments = sum(bool(row) and row[0].lstrip().startswith(COMMENTS) for _, row in rows)
    if comments:
        assumed.append(say("recording-assumed.comments", comments=comments, known=" or ".join(COMMENTS)))
    if not filled:
        raise RecordingError(name, say("recording.empty"), say("mend.record-or-export"))
    width = max(len(row) for _, row in filled)
    blank = [number for number, row in rows if not any(cell.strip() for cell in row)]
    inside = [number for number in blank if filled[0][0] < number < filled[-1][0]]
    if width == 1 and inside and len(inside) < MOSTLY_BLANK * len(rows):
        # In a single column an empty line is an empty cell.
        empty = set(inside)
        filled = sorted([*(each for each in filled if each[0] not in empty), *((number, [""]) for number in empty)])
    elif width == 1:
        filled = [(number, row) for number, row in filled if row[0].strip()]
    while filled and not any(cell.strip() for cell in filled[-1][1]):
        filled.pop()
    while filled and not any(cell.strip() for cell in filled[0][1]):
        filled.pop(0)
    return filled


def _separator(text: str) -> str:
    """Tab, semicolon or comma: the first of them that stands as often in most lines of the beginning as in the last."""
    lines = [line for line in text.splitlines() if line.strip() and not line.lstrip().startswith(COMMENTS)][:LOOKED_AT]
    for mark in ("\t", ";"):
        counts = [line.count(mark) for line in lines]
        if counts and counts[-1] and sum(count == counts[-1] for count in counts) > len(counts) / 2:
            return mark
    return ","


def _check_header(place: str, header: tuple[str, ...]) -> None:
    for position, cell in enumerate(header, start=1):
        if not cell:
            raise RecordingError(
                say("recording-at.column", place=place, position=position),
                say("recording.no-name"),
                say("mend.name-columns"),
            )
        if header.count(cell) > 1:
            raise RecordingError(
                say("recording-at.column", place=place, position=position),
                say("recording.name-twice", cell=cell[:40]),
                say("mend.rename-one"),
            )


def _numbers(name: str, header: tuple[str, ...], rows: list[tuple[int, list[str]]], assumed: list[str]) -> Samples:
    """Every cell as a number, NaN where there is none, or the first that is neither."""
    shape = (len(rows), len(header))
    try:
        values = np.array([row for _, row in rows], dtype=np.float64).reshape(shape)
    except ValueError:
        values = np.full(shape, np.nan)
        commas = any("," in cell for _, row in rows for cell in row)
        if commas:
            assumed.append(say("recording-assumed.commas"))
        for place, (number, row) in enumerate(rows):
            for column, cell in enumerate(row):
                value = _value(cell)
                if value is None:
                    raise _bad_cell(name, number, header[column], cell) from None
                values[place, column] = value
    if np.isinf(values).any():
        place, column = (int(found[0]) for found in np.nonzero(np.isinf(values)))
        raise _bad_cell(name, rows[place][0], header[column], rows[place][1][column])
    missing = int(np.count_nonzero(np.isnan(values)))
    if missing:
        assumed.append(say("recording-assumed.empty-cells", count=missing))
    return values


def _bad_cell(name: str, number: int, column: str, cell: str) -> RecordingError:
    return RecordingError(
        say("recording-at.cell", name=name, number=number, column=column[:40]),
        say("recording.no-number", cell=cell.strip()[:40]),
        say("mend.number-or-empty"),
    )


def _value(cell: str) -> float | None:
    """A number with a decimal point or comma, NaN for a cell that says it is empty, None for anything else."""
    cell = cell.strip()
    if cell.lower() in NOTHING:
        return float("nan")
    try:
        return float(cell if "." in cell else cell.replace(",", ".", 1))
    except ValueError:
        return None
