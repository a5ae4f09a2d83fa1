"""What can go wrong between electrode and activation, grouped by who must act."""

from __future__ import annotations

from musclewood.assets.saying import say


class SensorError(Exception):
    """The patient can mend it: the sensor is off, out of reach, or gone. `trouble` is a key under
    `trouble` (what is wrong) and `trouble-advice` (what to do) in the catalogues."""

    def __init__(self, trouble: str) -> None:
        super().__init__(trouble)
        self.trouble = trouble


class RecordingError(Exception):
    """Whoever made the file can mend it: a recording that cannot be read. One line, naming the place and the remedy."""

    def __init__(self, place: str, problem: str, remedy: str) -> None:
        super().__init__(say("wrong.at", place=place, problem=problem, remedy=remedy))
        self.place = place
        self.problem = problem
        self.remedy = remedy
