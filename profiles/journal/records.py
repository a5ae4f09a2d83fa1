"""What the journal holds: one frozen record for each thing that happened. Times are seconds since the session began.

Every record is plain data (text, numbers, tuples of numbers, None), so that it can be written as one line of JSON and
be read again unchanged. A figure that could not be measured is None, or NaN where the type says float.
"""

from __future__ import annotations

import json
import math
import typing
from collections.abc import Hashable, Mapping
from dataclasses import asdict, dataclass, fields
from functools import cache
from typing import Any, Literal, TypeVar

Source = Literal["ble", "replay", "simulated", "keyboard", "lsl"]
PRACTICE_SOURCES = ("keyboard", "simulated")

Verdict = Literal["counted", "short", "weak", "over", "not relaxed", "compensated", "unreadable"]

# What `SetRecord.cut_short` says when the median frequency fell too far: scaling must not raise anything after it.
CUT_SHORT_TIRED = "tired"

Ending = Literal["complete", "stopped", "pain", "ceiling", "sensor", "interrupted"]

# What `SessionEnd.note` says where nobody pressed stop and the session was ended all the same.
ENDED_BY_ITSELF = (
    "nobody answered",
    "the cues were not answered",
    "the muscle did not come to rest",
    "no steady maximum could be found",
    "not every effort could be told from rest",
)

# What `InterruptionRecord.reason` says of an exercise that was not asked for, since rest would have hidden its effort.
PASSED_OVER = "passed over"


@dataclass(frozen=True, slots=True)
class SessionStart:
    """`started_at` is ISO 8601 with the offset from UTC; `zone` the patient's IANA zone ('' if unknown)."""

    patient: str
    revision: int
    source: Source
    started_at: str
    zone: str = ""
    sensor: str = ""
    software: str = ""

    @property
    def practice(self) -> bool:
        """Whether the session was tried without a muscle, and so never counts as dose."""
        return self.source in PRACTICE_SOURCES


@dataclass(frozen=True, slots=True)
class CalibrationRecord:
    """One muscle's rest and reference contraction. `reference_uv` is what activation was measured against afterwards.

    `reference` says which contraction it was (`profiles/orders/reference.py`). `rest_scatter` is the SD of the log of
    the seconds of rest, `rest_hidden` the share of them that the sensor's steps hid; `late_start_s`, `late_release_s`
    how late trials started and stopped. A row without trials is a rest that was measured again, and its `mvc_uv` NaN.
    """

    muscle: str
    channel: int
    at_s: float
    rest_uv: float
    mvc_uv: float
    cv: float | None
    trials_uv: tuple[float, ...]
    reference_uv: float
    note: str | None = None
    reference: str = "maximum"
    rest_scatter: float | None = None
    late_start_s: float | None = None
    late_release_s: float | None = None
    rest_hidden: float | None = None


@dataclass(frozen=True, slots=True)
class RepRecord:
    """One attempt at a repetition; `verdict` says whether it counts. `effort_profile` is %MVC over the rep.

    `unseen`: done with the door closed, cue and time shown and the effort not.
    """

    exercise_id: str
    kind: str
    workshop: str
    set_number: int
    rep_number: int
    verdict: Verdict
    onset_s: float
    offset_s: float
    held_s: float
    in_band_s: float
    mean_pct_mvc: float
    peak_pct_mvc: float
    steadiness: float
    rise_pct_mvc_per_s: float
    target_pct_mvc: float
    tolerance_pct_mvc: float
    opposite_mean_pct_mvc: float | None = None
    effort_profile: tuple[float, ...] = ()
    unseen: bool = False


@dataclass(frozen=True, slots=True)
class SetRecord:
    """One set as it was done. `cut_short` is the reason, if it ended before its reps were made."""

    exercise_id: str
    set_number: int
    reps_ordered: int
    reps_counted: int
    attempts: int
    start_s: float
    end_s: float
    cut_short: str | None = None
    median_frequency_decline_pct: float | None = None
    cocontraction_pct: float | None = None
    readable_share: float | None = None
    quality: str | None = None


@dataclass(frozen=True, slots=True)
class InterruptionRecord:
    """Something stopped the session for a while: a pause, a lost sensor, a loose electrode.

    `detail` is a fault of the signal, or the exercise that was passed over.
    """

    at_s: float
    duration_s: float
    reason: str
    detail: str | None = None


@dataclass(frozen=True, slots=True)
class RatingRecord:
    """An answer of the patient on a plain 0 to 10 scale. Only 'pain' steers safety."""

    at_s: float
    what: Literal["pain", "effort", "tiredness", "ease"]
    value: int
    moment: Literal["before", "during", "after"]
    exercise_id: str | None = None


@dataclass(frozen=True, slots=True)
class ScalingRecord:
    """What the program moved by itself, and why: for the patient a code (`plan/reasons.py`), for whoever reads the data
    a sentence."""

    exercise_id: str
    target_from_pct_mvc: float
    target_to_pct_mvc: float
    tolerance_from_pct_mvc: float
    tolerance_to_pct_mvc: float
    rest_from_s: float
    rest_to_s: float
    predicted_success: float | None
    reason_patient: str
    reason_therapist: str


@dataclass(frozen=True, slots=True)
class SessionEnd:
    """`ended_at` is ISO 8601 with the offset from UTC."""

    ended_at: str
    ending: Ending
    note: str | None = None


TestOf = Literal["both-sides", "maximum"]


@dataclass(frozen=True, slots=True)
class RetestRecord:
    """One muscle on one side in a test that the order repeats at home. `set_aside_uv` are trials that do not count.

    A row without trials only says that the test was begun. `name` is the muscle's in the order, since the other side
    need not be a muscle of it; `way` how one or two channels saw both, `first` whether this side began.
    """

    test: TestOf
    muscle: str
    name: str
    side: Literal["left", "right"]
    role: Literal["involved", "uninvolved"]
    channel: int
    at_s: float
    rest_uv: float
    trials_uv: tuple[float, ...]
    set_aside_uv: tuple[float, ...] = ()
    way: Literal["one side", "two channels", "moved sensor", "both at once"] = "one side"
    first: bool = True


Record = CalibrationRecord | RetestRecord | RepRecord | SetRecord | InterruptionRecord | RatingRecord | ScalingRecord
RECORD_NAMES: dict[str, type[Record]] = {
    "calibration": CalibrationRecord,
    "test": RetestRecord,
    "rep": RepRecord,
    "set": SetRecord,
    "interruption": InterruptionRecord,
    "rating": RatingRecord,
    "scaling": ScalingRecord,
}
NAME_OF: dict[type[Any], str] = {kind: name for name, kind in RECORD_NAMES.items()}


def to_plain(record: Record | SessionStart | SessionEnd) -> dict[str, Any]:
    """The record as values that JSON can hold; what is not finite becomes null."""
    return {key: _finite(value) for key, value in asdict(record).items()}


def _finite(value: Any) -> Any:
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, tuple | list):
        return [_finite(item) for item in value]
    return value


Written = TypeVar("Written", bound=Record | SessionStart | SessionEnd)


def from_plain(kind: type[Written], values: Mapping[str, Any]) -> Written:
    """The record again. A null where a number must be is NaN. Raises TypeError if the values are no such record."""
    owner: Any = kind
    numbers, rows = _shapes(owner)
    ready = dict(values)
    for key in numbers & ready.keys():
        if ready[key] is None:
            ready[key] = math.nan
    for key in rows & ready.keys():
        row = tuple(ready[key])
        ready[key] = tuple(math.nan if item is None else item for item in row) if None in row else row
    return kind(**ready)


def rep_in(text: str) -> RepRecord:
    """The record of a rep in its line of JSON."""
    return from_plain(RepRecord, json.loads(text))


@cache
def _shapes(kind: Hashable) -> tuple[frozenset[str], frozenset[str]]:
    """Names of the fields that hold a number, and of those that hold a row of them."""
    owner: Any = kind
    hints = typing.get_type_hints(owner)
    names = [field.name for field in fields(owner)]
    return (
        frozenset(name for name in names if hints[name] is float),
        frozenset(name for name in names if typing.get_origin(hints[name]) is tuple),
    )
