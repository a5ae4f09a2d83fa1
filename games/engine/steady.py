"""What is shown of the activation: steadier than what is judged, and no later where something happens.  Pure.

Somebody who holds a level by a display acts on it a fifth of a second late, and what noise they chase comes back as
effort. Half of what is shown is therefore the mean of the last two seconds: within a hold the eye is asked to mend half
of each deviation, and the noise chased is halved with it. That mean stays near the newest value and catches up with it
when it has moved away, so a muscle that lets go, rises or follows a pattern is shown at once, at most a fifth of its
level late.
"""

from __future__ import annotations

from collections.abc import Sequence

# Our choice, by the loop of a person who corrects three times a second of what they see, 0.2 s late
# (tests/bench/signal_weak.py, `loop`): 2.2 %MVC of true holding error; with 3 s and 0.6 it is lower, but shown later.
SHARE = 0.5
MEMORY_S = 2.0
NEAR = 0.4  # the mean leaves the newest value by no more than this part of it, five deviations of its noise ...
CAUGHT_UP, CATCH_UP_S = 0.25, 0.15  # ... and then follows it more quickly until so much of that is left


class SteadyDisplay:
    """Steadies activations for the eye, one value per channel, ticks `step_s` apart."""

    def __init__(self, step_s: float) -> None:
        self._slowly, self._quickly = min(1.0, step_s / MEMORY_S), min(1.0, step_s / CATCH_UP_S)
        self._means: list[float] = []
        self._behind: list[bool] = []

    def clear(self) -> None:
        """What was shown is over: nothing could be read."""
        self._means = []

    def step(self, activation: Sequence[float]) -> tuple[float, ...]:
        """The newest activations to what is shown of them."""
        if not self._means:
            self._means, self._behind = list(activation), [False] * len(activation)
        for channel, now in enumerate(activation):
            behind, mean = self._behind[channel], self._means[channel]
            mean += (now - mean) * (self._quickly if behind else self._slowly)
            off, most = abs(mean - now), NEAR * now
            self._behind[channel] = off > most or (behind and off > CAUGHT_UP * most)
            self._means[channel] = min(max(mean, now - most), now + most)
        return tuple(SHARE * mean + (1.0 - SHARE) * now for mean, now in zip(self._means, activation, strict=True))
