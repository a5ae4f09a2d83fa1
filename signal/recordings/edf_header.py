"""The header and the annotation lists of an EDF+ file, as bytes.

Kemp B, Olivan J. European data format 'plus' (EDF+). Clin Neurophysiol 2003; 114: 1755-1761; www.edfplus.info.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

COUNT_AT, COUNT_BYTES = 236, 8  # where the header keeps the number of data records
MONTHS = ["JAN", "FEB", "MAR", "APR", "MAY", "JUN", "JUL", "AUG", "SEP", "OCT", "NOV", "DEC"]


@dataclass(frozen=True, slots=True)
class SignalHeader:
    """One channel: physical values from -most to +most of `unit`, in as many steps up as down from zero."""

    label: str
    unit: str
    most: float
    most_steps: int
    samples_per_record: int


def edf_header(
    signals: Sequence[SignalHeader],
    annotation_bytes_per_record: int,
    record_s: float,
    started: datetime,
    patient_code: str,
) -> bytes:
    """256 bytes for the file and 256 for each signal, the annotations being the last signal."""
    date = f"{started.day:02d}-{MONTHS[started.month - 1]}-{started.year:04d}"
    count = len(signals) + 1
    fixed = [
        ("0", 8),
        (f"{_word(patient_code)} X X X", 80),  # code; no sex, no birth date, no name
        (f"Startdate {date} X X musclewood", 80),
        (started.strftime("%d.%m.%y"), 8),
        (started.strftime("%H.%M.%S"), 8),
        (str(256 * (count + 1)), 8),
        ("EDF+C", 44),
        ("0", COUNT_BYTES),
        (_number(record_s), 8),
        (str(count), 4),
    ]
    notes = SignalHeader("EDF Annotations", "", 1.0, 32767, annotation_bytes_per_record // 2)
    every = [*signals, notes]
    fields = [
        ([_label(signal.label) for signal in signals] + [notes.label], 16),
        (["surface electrode"] * len(signals) + [""], 80),
        ([signal.unit for signal in every], 8),
        ([_number(-signal.most) for signal in every], 8),
        ([_number(signal.most) for signal in every], 8),
        ([str(-signal.most_steps) for signal in signals] + ["-32768"], 8),
        ([str(signal.most_steps) for signal in every], 8),
        ([""] * count, 80),
        ([str(signal.samples_per_record) for signal in every], 8),
        ([""] * count, 32),
    ]
    parts = [_field(text, width) for text, width in fixed]
    parts += [_field(text, width) for texts, width in fields for text in texts]
    return b"".join(parts)


def record_count(records: int) -> bytes:
    """The number of records as it stands at COUNT_AT."""
    return _field(str(records), COUNT_BYTES)


def annotation_bytes(onset_s: float, duration_s: float | None, text: str) -> bytes:
    """One time-stamped annotation list. An empty text at a record's start keeps the time of that record."""
    duration = b"" if duration_s is None else b"\x15" + f"{max(0.0, duration_s):.6f}".rstrip("0").rstrip(".").encode()
    onset = f"{onset_s:+.6f}".rstrip("0").rstrip(".").encode()
    return (
        onset
        + duration
        + b"\x14"
        + text.replace("\x14", " ").replace("\x15", " ").replace("\0", " ").encode()
        + b"\x14\0"
    )


def writable(limit: float) -> float:
    """The nearest value that fits the eight characters of a header field, also with a minus before it."""
    return float(_number(limit, 7))


def _label(label: str) -> str:
    """The standard's labels name the kind of signal first."""
    return f"EMG {label}"


def _word(text: str) -> str:
    """A subfield: no spaces, printable ASCII."""
    return "".join(mark if "!" <= mark <= "~" else "_" for mark in text) or "X"


def _number(value: float, width: int = 8) -> str:
    """At most so many characters, without exponent."""
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return text if len(text) <= width else text[:width].rstrip(".")


def _field(text: str, width: int) -> bytes:
    plain = "".join(mark if " " <= mark <= "~" else "_" for mark in text)
    return plain[:width].ljust(width).encode("ascii")
