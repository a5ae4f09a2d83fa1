"""How often a picture is drawn: as often as somebody would miss it, and no more than the computer can spare.

Nothing here changes what counts: samples are taken and judged by their own clock, whatever is drawn.
"""

from dataclasses import dataclass

LEARN = 0.1  # share of a new cost in the usual one


@dataclass(frozen=True)
class Pace:
    """Pictures a second, at most and at least, and the share of one core they may take in between."""

    most_hz: float
    least_hz: float
    share: float


# Our choice. Twelve pictures a second are what drawn films are made of, and eight where little moves; smoke and swaying
# grass ask for no more.
QUIET = Pace(15.0, 8.0, 0.05)
RESTING = Pace(20.0, 8.0, 0.04)
LIVELY = Pace(60.0, 24.0, 0.10)


class Pacing:
    """Learns what a picture costs here, and says how long to wait for the next one."""

    def __init__(self) -> None:
        self._cost_s = 0.0

    def spent(self, cost_s: float) -> None:
        """A picture took so much of the processor."""
        self._cost_s += LEARN * (cost_s - self._cost_s)

    def wait_s(self, pace: Pace) -> float:
        """From the beginning of one picture to that of the next."""
        return min(max(1 / pace.most_hz, self._cost_s / pace.share), 1 / pace.least_hz)
