"""The moon that keeps the rest between repetitions."""

from musclewood.games.engine.rep_events import RepView
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.motion import approach
from musclewood.games.screens.base.pool import draw_moon_clock
from musclewood.games.screens.session.sayings import RESTS, stirred

MOON = (1150.0, 120.0)
FILL_S, ANSWER_S = 0.6, 0.3  # the moon's own pace; within what is felt as an answer


class RestMoon:
    """The moon that keeps the rest: seen to fill, to wait behind a cloud while the muscle stirs, and to begin anew."""

    def __init__(self) -> None:
        self.share: float | None = None  # of the rest that has passed, None while there is none
        self.cloud = 0.0

    def step(self, dt_s: float, rep: RepView, rest_s: float) -> None:
        """A rest that was broken is waited for: the moon stays in sight until it begins again."""
        if rep.phase not in (*RESTS, "release"):
            self.share = None
        elif rep.phase in RESTS:
            passed = 1 - rep.left_s / rest_s
            self.share = passed if self.share is None else approach(self.share, passed, dt_s, FILL_S)
        elif self.share is not None:
            self.share = approach(self.share, 0.0, dt_s, FILL_S)
        waits = stirred(rep) or rep.phase == "release"
        self.cloud = approach(self.cloud, float(waits), dt_s, ANSWER_S)

    def draw(self, canvas: Canvas, rep: RepView, rest_s: float) -> None:
        """Reads only; at the first look it stands where the rest stands."""
        if self.share is not None:
            draw_moon_clock(canvas, MOON, 60, self.share, self.cloud)
        elif rep.phase in RESTS:
            draw_moon_clock(canvas, MOON, 60, 1 - rep.left_s / rest_s, float(stirred(rep)))
