"""Recordings as EDF or EDF+ (Kemp & Olivan 2003, Clin Neurophysiol 114:1755)."""

from __future__ import annotations

import re
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
from edfio import Edf, EdfAnnotation, EdfSignal, read_edf
from musclewood.assets.saying import say
from musclewood.signal.errors import RecordingError
from musclewood.signal.recordings.recording import Gap, Recording, checked, uv_per_unit
from musclewood.signal.recordings.recording_file import LOST, NOT_RECORDED

ANNOTATIONS = "EDF Annotations"
MAIN_HEADER = 256  # bytes, and as many again for every signal
LONGEST_GAP_S = 3600.0  # our choice: whoever pauses for longer has made two recordings


def read_edf_plus(path: Path) -> Recording:
    """Read every signal that is not an annotation. Gaps between the data records of EDF+D become lost samples, as
    do the stretches that our own recordings mark as lost.

    Raises RecordingError for anything that cannot be read without guessing.
    """
    content = path.read_bytes()
    name = path.name
    layout = _layout(content, name)
    try:
        with warnings.catch_warnings():
            # What edfio warns of (odd dates, physical ranges) does not touch the samples, or is checked here.
            warnings.simplefilter("ignore")
            recording = _recording(read_edf(content, header_encoding="latin-1"), content, layout, name)
    except RecordingError:
        raise
    except Exception as error:
        # Whatever a damaged file makes the library raise, the reader is told one thing: this file is damaged.
        raise _broken(name, say("recording.no-sound-edf", one_line=_one_line(error))) from error
    return checked(recording, name)


@dataclass(frozen=True, slots=True)
class _Layout:
    """What the header says of the data records; sizes in bytes, one per signal, annotations included."""

    record_s: float
    records: int
    labels: tuple[str, ...]
    sizes: tuple[int, ...]
    discontinuous: bool

    @property
    def header_size(self) -> int:
        return MAIN_HEADER * (len(self.labels) + 1)


def _layout(content: bytes, name: str) -> _Layout:
    """Read and check the fields that everything else hangs on, and that the file is as long as they say."""
    if not content:
        raise RecordingError(name, say("recording.empty"), say("mend.record-or-export"))
    if len(content) < MAIN_HEADER or content[:8].strip() != b"0":
        raise RecordingError(name, say("recording.no-edf"), say("mend.give-edf"))
    header = say("recording-at.header", name=name)
    signals = int(_number(content[252:256], header, say("recording-field.signals")))
    if not 1 <= signals <= 512 or len(content) < MAIN_HEADER * (signals + 1):
        raise _broken(header, say("recording.signals-do-not-fit", signals=signals))
    start = MAIN_HEADER
    labels = tuple(content[start + 16 * i : start + 16 * (i + 1)].decode("latin-1").strip() for i in range(signals))
    start = MAIN_HEADER + signals * 216
    counts = [
        int(_number(content[start + 8 * i : start + 8 * (i + 1)], header, say("recording-field.samples")))
        for i in range(signals)
    ]
    layout = _Layout(
        record_s=_number(content[244:252], header, say("recording-field.duration")),
        records=int(_number(content[236:244], header, say("recording-field.records"))),
        labels=labels,
        sizes=tuple(2 * count for count in counts),
        discontinuous=content[192:197] == b"EDF+D",
    )
    if all(label == ANNOTATIONS for label in labels):
        raise RecordingError(name, say("recording.only-annotations"), say("mend.give-emg"))
    if layout.record_s <= 0.0:
        raise _broken(header, say("recording.no-duration"))
    if min(counts) < 1:
        raise _broken(header, say("recording.signal-empty"))
    if layout.records == 0:
        raise RecordingError(header, say("recording.no-records"), say("mend.record-again"))
    expected = layout.header_size + layout.records * sum(layout.sizes)
    if layout.records < 0 or len(content) != expected:
        short = layout.records < 0 or len(content) < expected
        sizes = {"count": len(content), "said": max(expected, 0)}
        raise _broken(name, say("recording.cut-short", **sizes) if short else say("recording.too-long", **sizes))
    return layout


def _number(field: bytes, place: str, what: str) -> float:
    try:
        value = float(field.decode("ascii").strip())
    except ValueError:
        raise _broken(place, say("recording.field-no-number", what=what)) from None
    if not np.isfinite(value):
        raise _broken(place, say("recording.field-not-finite", what=what))
    return value


def _recording(edf: Edf, content: bytes, layout: _Layout, name: str) -> Recording:
    signals = [signal for signal in edf.signals if signal.label != ANNOTATIONS]
    rates = {signal.label: signal.samples_per_data_record / layout.record_s for signal in signals}
    counts = {signal.samples_per_data_record for signal in signals}
    if len(counts) > 1:
        listed = ", ".join(f"{label} {rate:g} Hz" for label, rate in rates.items())
        raise RecordingError(name, say("recording.differing-rates", listed=listed), say("mend.one-rate"))
    columns = []
    for signal in signals:
        place = say("recording-at.channel", name=name, label=signal.label)
        factor = uv_per_unit(signal.physical_dimension, place)
        low, high = signal.digital_min, signal.digital_max
        if not low < high or signal.physical_min == signal.physical_max:
            raise _broken(place, say("recording.scale-empty"))
        column = np.asarray(signal.data, dtype=np.float64) * factor
        if not np.all(np.isfinite(column)):
            raise _broken(place, say("recording.scale-no-number"))
        columns.append(column)
    per_record = counts.pop()
    rate_hz = per_record / layout.record_s
    gaps = _gaps(content, layout, per_record, rate_hz, name) if layout.discontinuous else ()
    recording = Recording(np.column_stack(columns), rate_hz, _labels(signals), gaps)
    return recording if gaps else _without_stand_ins(recording, edf.annotations)


def _without_stand_ins(recording: Recording, annotations: Sequence[EdfAnnotation]) -> Recording:
    """Take out the samples that only keep the place of lost ones, and what only fills the last data record."""
    measured = np.ones(len(recording.samples_uv), bool)
    gaps, taken = [], 0
    for note in sorted(annotations, key=lambda note: note.onset):
        first = min(len(measured), max(0, round(note.onset * recording.rate_hz)))
        if note.text == NOT_RECORDED:
            measured[first:] = False
        elif note.text == LOST and note.duration:
            until = min(len(measured), first + round(note.duration * recording.rate_hz))
            lost = int(measured[first:until].sum())
            if lost:
                gaps.append(Gap(first - taken, lost))
                measured[first:until] = False
                taken += lost
    return replace(recording, samples_uv=recording.samples_uv[measured], gaps=tuple(gaps))


def _labels(signals: Sequence[EdfSignal]) -> tuple[str, ...]:
    """Labels as they are, numbered where empty or repeated."""
    plain = [signal.label for signal in signals]
    return tuple(
        label if label and plain.count(label) == 1 else f"{label or 'channel'} {number}"
        for number, label in enumerate(plain, start=1)
    )


def _gaps(content: bytes, layout: _Layout, per_record: int, rate_hz: float, name: str) -> tuple[Gap, ...]:
    """Where a data record of EDF+D starts later than the one before it ended."""
    onsets = _record_onsets(content, layout, name)
    gaps = []
    for number, (earlier, later) in enumerate(pairwise(onsets), start=1):
        missing_s = later - earlier - layout.record_s
        if missing_s < -0.5 / rate_hz:
            raise _broken(say("recording-at.data-record", name=name, value=number + 1), say("recording.starts-early"))
        if missing_s > LONGEST_GAP_S:
            raise RecordingError(
                say("recording-at.data-record", name=name, value=number + 1),
                say("recording.missing", missing_s=missing_s),
                say("mend.split-it"),
            )
        lost = round(missing_s * rate_hz)
        if lost:
            gaps.append(Gap(number * per_record, lost))
    return tuple(gaps)


def _record_onsets(content: bytes, layout: _Layout, name: str) -> list[float]:
    """The onset in seconds of every data record, from the time-keeping list that its first annotation signal opens."""
    if ANNOTATIONS not in layout.labels:
        raise _broken(name, say("recording.no-times"))
    which = layout.labels.index(ANNOTATIONS)
    record_size = sum(layout.sizes)
    first = layout.header_size + sum(layout.sizes[:which])
    onsets = []
    for number in range(layout.records):
        start = first + number * record_size
        match = re.match(rb"([+-]\d{1,12}(?:\.\d{1,12})?)\x14\x14", content[start : start + layout.sizes[which]])
        if match is None:
            raise _broken(say("recording-at.data-record", name=name, value=number + 1), say("recording.no-start"))
        onsets.append(float(match.group(1)))
    return onsets


def _one_line(error: Exception) -> str:
    text = " ".join(str(error).split()) or type(error).__name__
    return text[:120]


def _broken(place: str, problem: str) -> RecordingError:
    """The file itself is at fault, and only another copy helps."""
    return RecordingError(place, problem, say("mend.export-or-copy"))
