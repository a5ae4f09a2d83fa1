"""One model of what a radio does to packets, for both test beds: packet number -> delays in seconds.

An empty list is a packet that never arrives, two zeros one that arrives twice, 0.08 one that comes late.
Each fault is a pure function of the packet number, so the same run can be repeated.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

Faults = Callable[[int], Sequence[float]]


def clean(number: int) -> Sequence[float]:
    """Nothing happens to any packet."""
    return [0.0]


def lossy(share: float, seed: int = 1) -> Faults:
    """Each packet is lost with this probability."""
    return lambda number: [] if random.Random(f"{seed} {number}").random() < share else [0.0]


def doubled(share: float, seed: int = 1) -> Faults:
    """Each packet arrives twice with this probability, the second time 5 ms later."""
    return lambda number: [0.0, 0.005] if random.Random(f"{seed} {number}").random() < share else [0.0]


def bursts(every: int, held: int, period_s: float) -> Faults:
    """Of every `every` packets, `held` are kept back and come together with the one after them, in order."""

    def delays(number: int) -> Sequence[float]:
        place = number % every
        return [(held - place) * period_s] if place < held else [0.0]

    return delays


def swapped(every: int, late_s: float) -> Faults:
    """Every so many packets, one is overtaken by its followers."""
    return lambda number: [late_s] if number % every == every - 1 else [0.0]


def beginning_with(number: int, faults: Faults) -> Faults:
    """Nothing happens before this packet."""
    return lambda packet: faults(packet) if packet >= number else [0.0]
