"""Record raw samples with annotations as EDF+, second by second, so that a crash costs one second at most.

Kemp B, Olivan J. European data format 'plus' (EDF+). Clin Neurophysiol 2003; 114: 1755-1761; www.edfplus.info.
"""

from __future__ import annotations

import os
import time
from collections import deque
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from types import TracebackType
from typing import Self

import numpy as np
from musclewood.signal.recordings.edf_header import (
    COUNT_AT,
    COUNT_BYTES,
    SignalHeader,
    annotation_bytes,
    edf_header,
    record_count,
    writable,
)
from musclewood.signal.stream.blocks import Block, Samples

# Room for annotations in each record; what does not fit goes into the next one. Our choice: fifty
# gaps a second, more than a radio leaves that is worth recording.
ANNOTATION_BYTES = 1600
LONGEST_TEXT_BYTES = 120
# 0.1 µV steps reach ±3.2767 mV: finer than the noise of skin electrodes, wider than surface EMG (common practice, no
# source). -32768 is left out, so that 0 µV is a step of its own and lost samples are exactly 0.
UV_PER_STEP = 0.1
MOST_STEPS = 32767
LOST = "lost samples"
BEYOND_RANGE = "beyond the range of this file"
NOT_RECORDED = "end of the recording"
GROWING_S = 5.0  # our choice: a recording that runs grows once a second


@dataclass(frozen=True, slots=True)
class Annotation:
    """What happened at `onset_s` since the first sample; duration_s None for a moment."""

    onset_s: float
    duration_s: float | None
    text: str


class RecordingFile:
    """An EDF+ file that grows by one record a second and can be read at any time, also after a crash.

    Lost samples keep their place in time: 0 µV, and an annotation `lost samples` with onset and duration says that
    nothing was measured there. Nothing about the patient but the clinic code is written.

    Raises OSError where the disk does.
    """

    def __init__(
        self,
        path: Path,
        *,
        rate_hz: float,
        labels: Sequence[str],
        started: datetime,
        patient_code: str = "X",
        uv_per_step: float = UV_PER_STEP,
    ) -> None:
        self.path = path
        most_uv = writable(uv_per_step * MOST_STEPS)
        self._rate_hz, self._uv_per_step = rate_hz, most_uv / MOST_STEPS
        self._record_samples, self._record_s = record_shape(rate_hz)
        signals = [SignalHeader(label, "uV", most_uv, MOST_STEPS, self._record_samples) for label in labels]
        header = edf_header(signals, ANNOTATION_BYTES, self._record_s, started, patient_code)
        self._waiting = np.zeros((0, len(labels)), dtype=np.float64)
        self._annotations: deque[Annotation] = deque()
        self._samples = 0
        self._origin: int | None = None
        self._records = 0
        # An earlier recording is never overwritten, and a new one is for this user alone; close() ends it.
        self._file = open(path, "xb", opener=_private)  # noqa: SIM115
        self._file.write(header)
        self._settle()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def add(self, block: Block) -> None:
        """Append a block; a gap before it (lost samples, or a later start_s) keeps its length."""
        start = round(block.start_s * self._rate_hz)
        if self._origin is None:
            self._origin = start
        gap = max(0, start - self._origin - self._samples)
        if gap:
            self.annotate(self._samples / self._rate_hz, gap / self._rate_hz, LOST)
            self._extend(np.zeros((gap, self._waiting.shape[1])))
        self._extend(np.nan_to_num(block.samples_uv))  # a channel that was not measured rests at 0

    def annotate(self, onset_s: float, duration_s: float | None, text: str) -> None:
        """Note something; onset_s counts from the first sample of the recording."""
        self._annotations.append(Annotation(onset_s, duration_s, text))

    def close(self) -> None:
        """Write what is left. The last record is filled up, and an annotation says where the recording ends."""
        if self._file.closed:
            return
        try:
            if len(self._waiting) or self._annotations:
                self.annotate(self._samples / self._rate_hz, None, NOT_RECORDED)
            while len(self._waiting) or self._annotations:  # each record takes some of them with it
                missing = self._record_samples - len(self._waiting)
                self._extend(np.zeros((missing, self._waiting.shape[1])))
        finally:
            self._file.close()

    def _extend(self, samples_uv: Samples) -> None:
        self._samples += len(samples_uv)
        self._waiting = np.concatenate([self._waiting, samples_uv])
        while len(self._waiting) >= self._record_samples:
            record, self._waiting = np.split(self._waiting, [self._record_samples])
            self._write(record)

    def _write(self, samples_uv: Samples) -> None:
        """One record: samples of each channel, then annotations; first the data, then the count that makes it valid."""
        steps = np.round(samples_uv / self._uv_per_step)
        if (np.abs(steps) > MOST_STEPS).any():
            self.annotate(self._records * self._record_s, self._record_s, BEYOND_RANGE)
        digital = np.clip(steps, -MOST_STEPS, MOST_STEPS).astype("<i2")
        self._file.write(digital.T.tobytes() + self._take_annotations())
        self._records += 1
        self._settle()
        self._file.seek(COUNT_AT)
        self._file.write(record_count(self._records))
        self._settle()
        self._file.seek(0, os.SEEK_END)

    def _take_annotations(self) -> bytes:
        room = annotation_bytes(self._records * self._record_s, None, "")  # the time-keeping annotation comes first
        while self._annotations:
            note = self._annotations[0]
            text = note.text.encode()[:LONGEST_TEXT_BYTES].decode(errors="ignore")
            more = annotation_bytes(note.onset_s, note.duration_s, text)
            if len(room) + len(more) > ANNOTATION_BYTES:
                break
            room += more
            self._annotations.popleft()
        return room.ljust(ANNOTATION_BYTES, b"\0")

    def _settle(self) -> None:
        self._file.flush()
        os.fsync(self._file.fileno())


def record_shape(rate_hz: float) -> tuple[int, float]:
    """Samples and seconds of a record: whole samples, about one second.

    A rate that is not whole gets the shortest record of at least a second that holds whole samples; if that is longer
    than ten seconds, as many samples as fit in one second, and their duration rounded to what the header can hold.
    """
    rate = Fraction(rate_hz).limit_denominator(1000)
    if float(rate) == rate_hz and rate.denominator <= 10:
        return rate.numerator, float(rate.denominator)
    samples = max(1, round(rate_hz))
    return samples, round(samples / rate_hz, 6)


def mend(path: Path) -> int:
    """Make a recording whole that a crash cut short between a record and its count; returns the number of records.

    A whole record beyond the count is counted, a part of one is cut off. A file that is whole stays untouched.
    """
    with open(path, "r+b") as file:
        header = file.read(256)
        header_bytes, signals = int(header[184:192]), int(header[252:256])
        samples = file.read(signals * 256)[signals * 216 : signals * 224]
        record_bytes = 2 * sum(int(samples[8 * n : 8 * n + 8]) for n in range(signals))
        records = (file.seek(0, os.SEEK_END) - header_bytes) // record_bytes
        if records != int(header[COUNT_AT : COUNT_AT + COUNT_BYTES]):
            file.seek(COUNT_AT)
            file.write(record_count(records))
        if file.seek(0, os.SEEK_END) != header_bytes + records * record_bytes:
            file.truncate(header_bytes + records * record_bytes)
    return records


def mend_all(folder: Path) -> list[Path]:
    """Mend what a crash left in a folder of recordings; returns those that were cut short or counted anew.

    Whatever grew within the last seconds is still being written, and what is no recording of ours stays as it is.
    """
    mended = []
    for path in sorted(folder.glob("*.edf")):
        with suppress(OSError, ValueError, ZeroDivisionError):
            before = path.stat()
            if time.time() - before.st_mtime > GROWING_S:
                mend(path)
                after = path.stat()
                if (after.st_mtime_ns, after.st_size) != (before.st_mtime_ns, before.st_size):
                    mended.append(path)
    return mended


def _private(path: str, flags: int) -> int:
    return os.open(path, flags, 0o600)
