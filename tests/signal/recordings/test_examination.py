"""What `examine` says of recordings with a known content."""

from __future__ import annotations

import json
from collections.abc import Callable

import numpy as np
import pytest
from musclewood.signal.recordings.examination import blocks_of, examine
from musclewood.signal.recordings.recording import Gap, Recording
from musclewood.signal.stream.blocks import Samples

Make = Callable[..., Samples]
COURSE = [(2.0 + 4.0 * i, 4.0 + 4.0 * i, 0.4) for i in range(6)]


@pytest.fixture(scope="module")
def recording(muscle: Make) -> Recording:
    first = muscle(1000.0, 28.0, COURSE, seed=1)
    second = muscle(1000.0, 28.0, [(on_s, off_s, 0.2) for on_s, off_s, _ in COURSE[:3]], seed=2)
    return Recording(np.hstack([first, second]), 1000.0, ("front", "back"))


def test_the_whole_answer(recording: Recording) -> None:
    found = examine(recording)
    json.dumps(found, allow_nan=False)
    assert found["format"] == "musclewood-examination/1"
    assert found["rate_hz"] == 1000.0 and found["duration_s"] == 28.0
    front, back = found["channels"]
    assert (front["label"], back["label"]) == ("front", "back")
    assert len(front["contractions"]) == 6 and len(back["contractions"]) == 3
    for contraction, (on_s, off_s, _) in zip(front["contractions"], COURSE, strict=True):
        assert contraction["onset_s"] == pytest.approx(on_s, abs=0.05)
        assert contraction["offset_s"] == pytest.approx(off_s, abs=0.06)
        assert contraction["mean_uv"] == pytest.approx(120.0, rel=0.15)
        assert contraction["peak_uv"] >= contraction["mean_uv"]
        assert contraction["median_frequency_hz"] == pytest.approx(95.7, rel=0.15)  # of the usual spectrum, 20-450 Hz
    assert front["rest_uv"] == pytest.approx(2.0, rel=0.2) and front["peak_uv"] == pytest.approx(145.0, rel=0.2)
    assert all(one["peak_uv"] <= each["peak_uv"] for each in (front, back) for one in each["contractions"])
    assert front["quality"]["verdict"] == "good" and front["quality"]["faults"] == []
    assert not front["fatigue"]["fatigued"]
    (pair,) = found["pairs"]
    assert pair["channels"] == [0, 1]
    assert 50.0 < pair["falconer_winter_percent"] < 75.0  # alike in three contractions, alone in three
    assert 0.0 < pair["rudolph"] < 2.0


def test_lost_samples_keep_their_time(recording: Recording) -> None:
    cut = np.delete(recording.samples_uv, slice(5000, 5500), axis=0)
    found = examine(Recording(cut, 1000.0, recording.labels, (Gap(5000, 500),)))
    assert found["duration_s"] == 28.0
    onsets = [contraction["onset_s"] for contraction in found["channels"][0]["contractions"]]
    assert onsets == pytest.approx([on_s for on_s, _, _ in COURSE], abs=0.05)


def test_blocks_tell_every_sample_and_every_loss(recording: Recording) -> None:
    gaps = (Gap(0, 7), Gap(1500, 20), Gap(2000, 3))
    blocks = list(blocks_of(Recording(recording.samples_uv, 1000.0, recording.labels, gaps)))
    np.testing.assert_array_equal(np.concatenate([block.samples_uv for block in blocks]), recording.samples_uv)
    assert sum(block.lost for block in blocks) == 30
    end_s = 0.0
    for block in blocks:
        assert block.start_s == pytest.approx(end_s + block.lost / 1000.0)
        end_s = block.start_s + len(block.samples_uv) / 1000.0


def test_what_cannot_be_told_is_null(muscle: Make) -> None:
    quiet = examine(Recording(muscle(1000.0, 3.0, []), 1000.0, ("a",)))["channels"][0]
    assert quiet["contractions"] == []
    assert quiet["fatigue"]["median_frequency_start_hz"] is None
    flat = examine(Recording(np.zeros((3000, 2)), 1000.0, ("a", "b")))
    json.dumps(flat, allow_nan=False)
    assert flat["channels"][0]["contractions"] == []
    assert flat["pairs"][0]["falconer_winter_percent"] is None


def test_an_envelope_has_contractions_but_no_spectrum() -> None:
    level = np.repeat([1.0, 50.0, 1.0, 50.0, 1.0], 100)[:, np.newaxis]
    (channel,) = examine(Recording(level, 50.0, ("a",)))["channels"]
    assert len(channel["contractions"]) == 2
    assert channel["contractions"][0]["median_frequency_hz"] is None
