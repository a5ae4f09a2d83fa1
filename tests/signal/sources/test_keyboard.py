"""A key becomes an effort."""

from __future__ import annotations

import numpy as np
import pytest
from musclewood.signal.sources import Source
from musclewood.signal.sources.keyboard import FULL_UV, HIGHEST_LEVEL, REST_UV, KeyboardSource


def samples(source: KeyboardSource, seconds: float) -> np.ndarray:
    return np.concatenate([block.samples_uv for block in source.poll(seconds)])


def test_it_is_a_source() -> None:
    source: Source = KeyboardSource(1)
    assert source.kind == "keyboard" and source.envelope and source.rate_hz == 100.0 and not source.ended
    source.start()
    assert source.poll(0.004) == [] and len(source.poll(0.1)[0].samples_uv) == 10


def test_a_held_key_rises_smoothly_without_overshoot_and_lets_go_quicker() -> None:
    source = KeyboardSource()
    assert np.all(samples(source, 0.5) == pytest.approx(REST_UV))
    source.press(0, True)
    rising = samples(source, 2.0)[:, 0]
    assert np.all(np.diff(rising) > 0.0)
    assert rising[-1] == pytest.approx(FULL_UV, rel=0.01) and np.max(rising) <= FULL_UV * 1.001
    source.press(0, False)
    falling = samples(source, 2.0)
    assert np.all(np.diff(falling[:, 0]) < 0.0)
    assert np.argmax(falling[:, 0] < FULL_UV / 2) < np.argmax(rising > FULL_UV / 2)
    assert np.all(falling[:, 1] == pytest.approx(REST_UV)), "the other key was not pressed"


def test_the_level_can_be_adjusted_within_bounds() -> None:
    source = KeyboardSource()
    source.adjust(0.4)
    source.adjust(9.0, channel=1)
    assert source.level == (0.4, HIGHEST_LEVEL)
    source.press(0, True)
    source.poll(3.0)
    assert source.effort == pytest.approx((0.4, 0.0), abs=0.001)
    source.adjust(-1.0)
    source.poll(3.0)
    assert source.effort[0] == pytest.approx(0.0, abs=0.001)
    with pytest.raises(ValueError, match="finite"):
        source.adjust(float("nan"))


def test_unknown_keys_are_ignored_and_stopping_lets_go() -> None:
    source = KeyboardSource()
    source.press(7, True)
    source.press(0, True)
    source.stop()
    source.poll(1.0)
    assert source.effort == (0.0, 0.0)


def test_sizes_of_poll_change_nothing() -> None:
    whole, stepped = KeyboardSource(), KeyboardSource()
    whole.press(0, True)
    stepped.press(0, True)
    parts = np.concatenate([block.samples_uv for _ in range(300) for block in stepped.poll(1 / 60)])
    np.testing.assert_array_equal(samples(whole, 5.0), parts)
