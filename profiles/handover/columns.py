"""The hand-over's tables: which columns they have, of which type, and what each of them means."""

from __future__ import annotations

import typing
from collections.abc import Sequence
from dataclasses import fields
from typing import Any

from musclewood.profiles.journal.records import (
    CalibrationRecord,
    InterruptionRecord,
    RatingRecord,
    RepRecord,
    RetestRecord,
    ScalingRecord,
    SetRecord,
)

TABLES: dict[str, type[Any]] = {
    "sets": SetRecord,
    "repetitions": RepRecord,
    "calibrations": CalibrationRecord,
    "interruptions": InterruptionRecord,
    "ratings": RatingRecord,
    "scaling": ScalingRecord,
    "tests": RetestRecord,
}
# Tables that came later: left out where they have no rows, so that a hand-over without them is as it always was.
LATER = ("tests",)
# The course of effort within each repetition has a table of its own: it is nine tenths of all bytes, and whoever opens
# the repetitions in a spreadsheet wants a row that can be read.
EFFORTS, PROFILE = "efforts", "effort_profile"
NAMES = ("sessions", *TABLES, EFFORTS)

SESSION_COLUMNS = {
    "session": "integer", "patient": "string", "revision": "integer", "source": "string", "practice": "boolean",
    "started_at": "datetime", "zone": "string", "sensor": "string", "software": "string", "ended_at": "datetime",
    "ending": "string", "note": "string",
}  # fmt: skip
# The place of a record in its session, so that the tables give back the order in which things happened.
ORDER = {"session": "integer", "order": "integer"}

TITLES = {
    "sessions": "Sessions, practice included",
    "sets": "Sets",
    "repetitions": "Attempts at a repetition",
    "calibrations": "Rest and maximum of a muscle",
    "interruptions": "What stopped a session for a while",
    "ratings": "Answers on a plain 0 to 10 scale",
    "scaling": "What the program moved by itself",
    "tests": "Tests that the order repeats at home, a row a muscle and side",
    "efforts": "Effort over each repetition",
}
MEANINGS = {
    "session": "number of the session in this hand-over",
    "order": "place of the row among everything that was recorded in its session",
    "patient": "the clinic's code",
    "revision": "revision of the prescription that was in force",
    "source": "where samples came from: ble, lsl, replay; keyboard and simulated are practice",
    "practice": "tried without a muscle; never counts as dose",
    "started_at": "ISO 8601 with the offset from UTC",
    "ended_at": "ISO 8601 with the offset from UTC; empty while a session is open",
    "zone": "the patient's time zone (IANA)",
    "ending": "complete, stopped, pain, ceiling, sensor or interrupted",
    "exercise_id": "the exercise's id in the prescription",
    "kind": "which kind of exercise, as in the prescription",
    "workshop": "the game in which it was played; never changes how a repetition is judged",
    "set_number": "from 1",
    "rep_number": "number of the attempt in its set, from 1",
    "verdict": "counted, or why not: short, weak, over, not relaxed, compensated, unreadable",
    "onset_s": "since the session began",
    "offset_s": "since the session began",
    "at_s": "since the session began",
    "held_s": "from onset to offset",
    "in_band_s": "time inside target plus or minus tolerance; from the target to the ceiling where tolerance is 0",
    "mean_pct_mvc": "mean activation in per cent of the reference contraction (calibrations: reference)",
    "peak_pct_mvc": "highest activation in per cent of the reference contraction",
    "steadiness": "1 less the coefficient of variation of activation during the hold",
    "rise_pct_mvc_per_s": "steepest rise of activation",
    "target_pct_mvc": "what was asked for at the time",
    "tolerance_pct_mvc": "half-width of the band that was asked for at the time; 0 where at least the "
    "target was asked for",
    "opposite_mean_pct_mvc": "mean activation of the muscle that was to stay quiet",
    "effort_profile": "activation in per cent of the reference contraction at even steps over the "
    "repetition, with spaces between",
    "unseen": "done with the door closed: cue and time were shown, the effort was not",
    "reps_ordered": "repetitions that the set was to have",
    "reps_counted": "repetitions that counted",
    "attempts": "repetitions tried, counted or not",
    "cut_short": "why the set ended early",
    "median_frequency_decline_pct": "fall of the median frequency of the EMG over the set, a sign of fatigue",
    "cocontraction_pct": "co-contraction index of the set (Falconer and Winter), 0 to 100",
    "readable_share": "share of the set in which the signal could be used",
    "quality": "signal of the set: good, fair or poor",
    "muscle": "the muscle's id in the prescription",
    "channel": "channel of the sensor, from 0",
    "rest_uv": "amplitude at rest",
    "mvc_uv": "mean of the best half second of each contraction that counts, less what choosing the best "
    "adds by chance; maximal ones unless `reference` says otherwise",
    "cv": "coefficient of variation of the trials",
    "trials_uv": "each trial, with spaces between",
    "reference_uv": "what activation was measured against afterwards",
    "reference": "what 100 % means: maximum (%MVC), or a submaximal contraction (%RVC): task ... or comfortable ...",
    "rest_scatter": "standard deviation of the logarithm of the amplitude's seconds at rest",
    "late_start_s": "median time from the cue to the start of a trial",
    "late_release_s": "median time from the end of a trial to the muscle's rest",
    "rest_hidden": "share of the seconds at rest in which the reading stood still: it was less than the sensor's steps",
    "test": "both-sides or maximum",
    "name": "the muscle's name in the prescription",
    "side": "left or right",
    "role": "involved or uninvolved",
    "set_aside_uv": "trials that do not count, since they lie far below the best, with spaces between",
    "way": "one side, two channels, moved sensor or both at once",
    "first": "whether this side began",
    "what": "pain, effort, tiredness or ease",
    "value": "0 to 10",
    "moment": "before, during or after",
    "duration_s": "how long",
    "reason": "what happened",
    "reason_patient": "what the patient was told: harder, easier or pain; harder-now and easier-now during a session",
    "reason_therapist": "why, in a sentence",
    "predicted_success": "share of repetitions that were expected to succeed",
}


def columns_of(table: str) -> dict[str, str]:
    """Column names and Table Schema types of one table. Every unit stands at the end of its column's name."""
    if table == "sessions":
        return SESSION_COLUMNS
    if table == EFFORTS:
        return ORDER | {PROFILE: "string"}
    hints = typing.get_type_hints(TABLES[table])
    names = [field.name for field in fields(TABLES[table]) if field.name != PROFILE]
    return ORDER | {name: _schema_type(hints[name]) for name in names}


def list_columns(table: str) -> Sequence[str]:
    """The columns that hold several numbers with spaces between."""
    if table == "sessions":
        return ()
    hints = typing.get_type_hints(TABLES["repetitions" if table == EFFORTS else table])
    return [key for key, hint in hints.items() if typing.get_origin(hint) is tuple]


def schema_of(table: str) -> dict[str, Any]:
    """The table's schema (Table Schema, a part of the Data Package standard)."""
    schema: dict[str, Any] = {
        "fields": [_described(column, kind) for column, kind in columns_of(table).items()],
        "missingValues": [""],
        "primaryKey": ["session"] if table == "sessions" else ["session", "order"],
    }
    if table != "sessions":
        reference = {"resource": "sessions", "fields": ["session"]}
        schema["foreignKeys"] = [{"fields": ["session"], "reference": reference}]
    return schema


def _described(column: str, kind: str) -> dict[str, str]:
    words = {"description": MEANINGS[column]} if column in MEANINGS else {}
    # ISO 8601 with an offset, and with fractions of a second only where there are any.
    form = {"format": "any"} if kind == "datetime" else {}
    return {"name": column, "type": kind, **form, **words}


def _schema_type(hint: Any) -> str:
    if typing.get_origin(hint) is not tuple and typing.get_args(hint):
        plain = [argument for argument in typing.get_args(hint) if argument is not type(None)]
        hint = plain[0] if all(isinstance(argument, type) for argument in plain) else str
    return {bool: "boolean", int: "integer", float: "number"}.get(hint, "string")
