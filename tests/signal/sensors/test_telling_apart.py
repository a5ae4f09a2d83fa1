"""The sensor that is squeezed is told from one that lies there. All bounds are our choice."""

from __future__ import annotations

import numpy as np
import pytest
from musclewood.signal.sensors.telling_apart import Liveliness, TellingApart
from musclewood.signal.stream.blocks import Block

RATE_HZ = 500.0


def heard(levels_uv: dict[str, list[float]], envelope: bool = False) -> tuple[str | None, float]:
    """Which one is named, and after how many seconds; each level lasts a second, in packets of 20 ms."""
    chance = np.random.default_rng(2)
    telling = TellingApart({name: Liveliness(RATE_HZ, envelope) for name in levels_uv})
    for second in range(len(next(iter(levels_uv.values())))):
        for packet in range(50):
            for name, levels in levels_uv.items():
                noise = chance.normal(size=(10, 1)) if not envelope else 1.0 + 0.05 * chance.normal(size=(10, 1))
                telling.sensors[name].hear([Block(levels[second] * noise + 300.0 * (not envelope), 0.0, 0)])
            telling.step()
            if telling.moved is not None:
                return telling.moved, second + packet / 50
    return None, 0.0


@pytest.mark.parametrize("envelope", [False, True])
def test_the_one_that_is_squeezed_within_a_second_and_a_half(envelope: bool) -> None:
    name, after_s = heard({"table": [5, 5, 5, 5, 5], "arm": [4, 4, 60, 60, 60]}, envelope)
    assert name == "arm" and 2.5 < after_s < 3.5


@pytest.mark.parametrize(
    "levels",
    [
        {"a": [5, 5, 5, 5, 5], "b": [5, 5, 5, 5, 5]},  # nobody squeezes
        {"a": [5, 5, 60, 60, 60], "b": [5, 5, 60, 60, 60]},  # both: a cable pulled, or two people
        {"a": [80, 80, 80, 80, 80], "b": [4, 4, 4, 4, 4]},  # one only louder: an open input
        {"a": [0.01, 0.01, 0.5, 0.5, 0.5], "b": [4, 4, 4, 4, 4]},  # next to nothing, even if it is fifty times its rest
    ],
    ids=["rest", "both", "louder", "dead"],
)
def test_no_other_change_names_anybody(levels: dict[str, list[float]]) -> None:
    assert heard(levels) == (None, 0.0)


def test_a_twitch_is_no_squeeze() -> None:
    telling = TellingApart({"a": Liveliness(RATE_HZ, True), "b": Liveliness(RATE_HZ, True)})
    for window in range(20):
        for name, one in telling.sensors.items():
            level = 60.0 if name == "a" and window in (9, 10, 13) else 5.0
            one.hear([Block(np.full((125, 1), level), 0.0, 0)])
        telling.step()
    assert telling.moved is None
