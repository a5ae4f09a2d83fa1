"""Recordings as CSV: columns of samples, perhaps one of times; what the file leaves open is assumed and said."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
from musclewood.assets.saying import say
from musclewood.signal.errors import RecordingError
from musclewood.signal.recordings.csv_text import Table, read_table
from musclewood.signal.recordings.recording import (
    HIGHEST_RATE_HZ,
    LOWEST_RATE_HZ,
    Gap,
    Recording,
    checked,
    uv_per_unit,
)
from numpy.typing import NDArray

TIME_COLUMN = "time_s"
# Names that exports give to times and to plain counts of samples: common practice, no source.
TIME_NAMES = {"time", "t", "times", "timestamp", "timestamps", "seconds", "second", "sec", "secs", "s", "elapsed",
    "zeit",
              "milliseconds", "millisecond", "msec", "ms", "microseconds", "us"}  # fmt: skip
COUNT_NAMES = {"sample", "samples", "index", "n", "nr", "no", "number", "frame", "row", "counter", "samplenumber"}
SECONDS_IN = {"s": 1.0, "sec": 1.0, "seconds": 1.0, "ms": 1e-3, "msec": 1e-3, "milliseconds": 1e-3, "millisecond": 1e-3,
              "us": 1e-6, "microseconds": 1e-6}  # fmt: skip
JITTER = 0.25  # our choice: a sample may lie a quarter of a step beside its place on the grid of an even rate
LONGEST_GAP_S = 3600.0  # our choice: whoever pauses for longer has made two recordings


def read_csv(path: Path, rate_hz: float | None = None, unit: str = "uV") -> Recording:
    """Read a CSV file. Small gaps in the times, and rows without samples, become lost samples.

    rate_hz: needed if there is no column of times, refused if it contradicts one.
    Raises RecordingError, naming row and column.
    """
    name = path.name
    factor = uv_per_unit(unit, name)
    table = read_table(path)
    assumed = list(table.assumed)
    column, scale = _time_column(table, assumed)
    counted = [
        place
        for place, label in enumerate(table.names)
        if place != column and table.named and _plain(label) in COUNT_NAMES and _counts(table.values[:, place])
    ]
    if counted:
        assumed.append(say("recording-assumed.counted", names=table.names[counted[0]]))
    channels = [place for place in range(len(table.names)) if place != column and place not in counted]
    labels = tuple(table.names[place] for place in channels)
    assumed += [
        say("recording-assumed.read-as", label=label, unit=unit) for label in labels if _names_other_unit(label, unit)
    ]
    samples = table.values[:, channels] * factor
    gaps: tuple[Gap, ...] = ()
    if column is None:
        if rate_hz is None:
            raise RecordingError(name, say("recording.no-rate", time_column=TIME_COLUMN), say("mend.give-rate"))
        found_hz = float(rate_hz)
    else:
        place = say("recording-at.column-of", name=name, names=table.names[column])
        found_hz, gaps = _timed(place, table.values[:, column], scale, assumed)
        if rate_hz is not None and abs(found_hz / rate_hz - 1.0) > 0.01:
            raise RecordingError(
                place,
                say("recording.other-rate", found_hz=found_hz, rate_hz=rate_hz),
                say("mend.rate-or-column"),
            )
    recording = _without_empty_rows(Recording(samples, found_hz, labels, gaps))
    return replace(checked(recording, name), assumed=tuple(assumed))


def _plain(label: str) -> str:
    """The name without its unit in brackets, blanks and case."""
    return re.sub(r"[\s_\-]*", "", re.sub(r"[(\[].*?[)\]]", "", label)).lower()


def _unit_of(label: str) -> str | None:
    """What stands in brackets or after the last blank or underline, if it is a unit of time."""
    found = re.findall(r"[(\[]\s*(\w+)\s*[)\]]", label) or re.findall(r"[\s_](\w+)$", label) or [label.strip()]
    spelled = str(found[-1]).lower().replace("µ", "u").replace("μ", "u")
    return spelled if spelled in SECONDS_IN else None


def _names_other_unit(label: str, unit: str) -> bool:
    found = re.search(r"[(\[_\s]\s*([uµμm]?v)\s*[)\]]?$", label, re.IGNORECASE)
    plain = str.maketrans("µμ", "uu")
    return found is not None and found.group(1).translate(plain).lower() != unit.translate(plain).lower()


def _time_column(table: Table, assumed: list[str]) -> tuple[int | None, float | None]:
    """Which column holds times, and how many seconds one of them is (None: to be told from the rate)."""
    if TIME_COLUMN in table.names:
        return table.names.index(TIME_COLUMN), 1.0
    for place, label in enumerate(table.names):
        unit = _unit_of(label)
        bare = _plain(label)
        if bare in TIME_NAMES or (unit is not None and bare.removesuffix(unit) in ("", *TIME_NAMES)):
            scale = None if unit is None else SECONDS_IN[unit]
            assumed.append(
                say("recording-assumed.times", label=label)
                if unit is None
                else say("recording-assumed.times-in", label=label, unit=unit)
            )
            return place, scale
    if not table.named and len(table.names) > 1 and _advances(table.values[:, 0]):
        assumed.append(say("recording-assumed.first-column"))
        return 0, None
    return None, None


def _counts(column: NDArray[np.float64]) -> bool:
    return len(column) > 2 and bool(np.all(np.diff(column[np.isfinite(column)]) == 1.0))


def _advances(column: NDArray[np.float64]) -> bool:
    steps = np.diff(column[np.isfinite(column)])
    return len(steps) > 2 and bool(np.all(steps > 0.0)) and float(np.ptp(steps)) < 0.5 * float(np.median(steps))


def _timed(
    place: str, times: NDArray[np.float64], scale: float | None, assumed: list[str]
) -> tuple[float, tuple[Gap, ...]]:
    """The rate and the gaps; scale: seconds in a unit of the times."""
    known = np.flatnonzero(np.isfinite(times))
    if len(known) < 3:
        raise RecordingError(place, say("recording.too-few"), say("mend.record-half-second"))
    times = np.interp(np.arange(len(times)), known, times[known]) if len(known) < len(times) else times
    if scale is None:
        step = float(np.median(np.diff(times)))
        scales = (
            each for each in (1.0, 1e-3, 1e-6) if LOWEST_RATE_HZ <= 1.0 / max(step * each, 1e-12) <= HIGHEST_RATE_HZ
        )
        scale = next(scales, 1.0)
        assumed.append(
            say(
                "recording-assumed.times-are",
                unit={1.0: "s", 1e-3: "ms", 1e-6: "µs"}[scale],
            )
        )
    return _timing(place, times * scale)


def _without_empty_rows(recording: Recording) -> Recording:
    """Rows in which no channel has a sample are lost samples, and keep their time."""
    empty = np.isnan(recording.samples_uv).all(axis=1) if recording.samples_uv.size else np.zeros(0, bool)
    if not empty.any():
        return recording
    lost: dict[int, int] = {}
    kept_before = np.concatenate(([0], np.cumsum(~empty)))
    for gap in recording.gaps:
        before = int(kept_before[gap.before])
        lost[before] = lost.get(before, 0) + gap.lost
    for row in np.flatnonzero(empty):
        before = int(kept_before[row])
        lost[before] = lost.get(before, 0) + 1
    gaps = tuple(Gap(before, count) for before, count in sorted(lost.items()) if before < int(kept_before[-1]))
    return replace(recording, samples_uv=recording.samples_uv[~empty], gaps=gaps)


def _timing(place: str, time_s: NDArray[np.float64]) -> tuple[float, tuple[Gap, ...]]:
    """The even rate behind the times, and the gaps in them."""
    steps = np.diff(time_s)
    backward = np.flatnonzero(steps <= 0.0)
    if len(backward):
        row = int(backward[0]) + 1
        raise RecordingError(
            place, say("recording.time-stands", time_s=time_s[row - 1], value=row + 1), say("mend.sort-rows")
        )
    step_s = _even_step(steps)
    places = np.rint(steps / step_s)
    off = np.abs(steps - places * step_s) > JITTER * step_s * np.maximum(1.0, 0.01 * places)
    if np.any(off | (places < 1)):
        worst = int(np.flatnonzero(off | (places < 1))[0])
        raise RecordingError(
            place,
            say("recording.uneven", steps=steps[worst], time_s=time_s[worst], step_s=step_s),
            say("mend.resample"),
        )
    wide = np.flatnonzero(places > 1)
    if len(wide) and float(np.max(steps)) > LONGEST_GAP_S:
        longest = int(np.argmax(steps))
        raise RecordingError(
            place, say("recording.missing-at", steps=steps[longest], time_s=time_s[longest]), say("mend.split-it")
        )
    if np.sum(places[wide] - 1) > len(time_s):
        raise RecordingError(place, say("recording.mostly-missing"), say("mend.whole-recording"))
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
