"""Real contractions play whole sessions: real muscle in, reps in the journal out."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from musclewood.games.__main__ import main
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import CalibrationRecord, RepRecord
from musclewood.profiles.orders.templates import template_text

MICROVOLT_PER_COUNT = {"bursts": 3000.0 / 2**16, "fatigue": 3000.0 / 2**12}  # 3 V over a gain of 1000


def order(trial_s: float, hold_s: float, reps: int) -> str:
    """A template cut down to one exercise that recordings of quick series fit into."""
    head, _, _ = template_text("weak-thigh-after-knee-operation").partition("[[exercises]]")
    for line, better in {
        "issued = 2026-11-25": "issued = 2020-01-01",
        "review = 2026-12-16": "review = 2099-12-31",
        'days = ["mon", "tue", "thu", "fri", "sat"]': 'days = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]',
        "rest_s = 6.0": "rest_s = 1.0",
        "trial_s = 4.0": f"trial_s = {trial_s}",
        "rest_between_s = 30.0": "rest_between_s = 1.0",
        "sessions_per_week = 5": "sessions_per_week = 7",
        "reps_per_week = 400": "reps_per_week = 700",
    }.items():
        assert line in head
        head = head.replace(line, better)
    return f"""{head}[[exercises]]
id = "elbow-hold"
title = "Bend the elbow"
kind = "hold"
workshops = ["kiln"]
muscles = ["vastus-medialis"]
sets = 1
reps = {reps}
hold_s = {hold_s}
rest_s = 1.0
set_rest_s = 2.0
quiet_pct_mvc = 20.0

[exercises.effort]
target_pct_mvc = 75.0
min_pct_mvc = 70.0
max_pct_mvc = 80.0
tolerance_pct_mvc = 40.0
ceiling_pct_mvc = 120.0
"""


@pytest.mark.parametrize(
    ("recording", "name", "trial_s", "hold_s", "reps", "ending"),
    [
        ("bursts", "bursts", 1.0, 0.4, 3, "complete"),
        ("fatigue", "fatigue", 2.5, 1.0, 6, None),
        ("bursts", "bursts", 1.0, 0.4, 20, "sensor"),
    ],
    indirect=["recording"],
    ids=["bursts to the end", "fatigue to the end", "a recording that ends early"],
)
def test_a_recorded_series_plays_a_session(recording, name, trial_s, hold_s, reps, ending, tmp_path: Path, capsys):
    samples = (recording.samples[:, 0] - np.median(recording.samples)) * MICROVOLT_PER_COUNT[name]
    csv, toml, path = tmp_path / "series.csv", tmp_path / "order.toml", tmp_path / "journal.sqlite"
    np.savetxt(csv, samples, header="biceps", comments="", fmt="%.3f")
    toml.write_text(order(trial_s, hold_s, reps), encoding="utf-8")
    play = ["play", str(toml), "--source", f"replay:{csv}", "--rate", "1000", "--offscreen", "--fast"]
    assert main([*play, "--journal", str(path)]) == 0
    told = capsys.readouterr().out
    with Journal.open(path) as journal:
        (session,) = journal.sessions()
        records = journal.records(1, RepRecord)
        (calibration,) = journal.records(1, CalibrationRecord)
        assert session.end is not None and journal.verify() == []
        assert session.end.ending == ending or (ending is None and session.end.ending in ("complete", "ceiling"))
    counted = [record for record in records if record.verdict == "counted"]
    assert len(counted) == reps if ending == "complete" else counted
    assert calibration.mvc_uv > 10 * calibration.rest_uv
    assert told.count("attempt ") == len(records)
    # Every attempt lies within a contraction that was seen by eye.
    for record in records:
        middle_s = (record.onset_s + record.offset_s) / 2
        seen = [(one.onset_s - 0.4, one.offset_s + 0.4) for one in recording.labels]
        assert record.held_s == 0.0 or any(low < middle_s < high for low, high in seen), record
