"""What happens at the pond. Pure: the same views and events give the same evening.

Effort draws the arm back, and letting go throws: brisk on, fully off. The reeds are the band. How often the stone skips
comes from how briskly the effort rose, as the rep engine measured it, and only a counted rep skips at all. A muscle
that is not at rest stirs the water.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Literal

from musclewood.games.engine.rep_events import (
    CueGiven,
    EffortStarted,
    JudgedRep,
    RepEvent,
    RepMade,
    RepMissed,
    RepView,
    RestStarted,
)
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.motion import approach
from musclewood.games.workshops import SoundCue
from musclewood.games.workshops.craft import ANSWER_S, Craft, tone_of
from musclewood.games.workshops.gauge import Gauge
from musclewood.games.workshops.skimming_pond.skips import FLIGHT_S, longest, longest_of_days, touches_in, way_of

if TYPE_CHECKING:
    from musclewood.profiles.plan.dose import PlannedExercise

STILL_S = 1.1  # water takes longer to lie still than to be stirred
LOOSE = 0.6  # of the band's lower edge: effort falling below this lets the stone go
WAITING = 0.9  # how far a stone flies before it is known whether it will skip
SINK_S = 1.0
TRAIL_S = 0.3  # how long a streak of light follows the hand: the brisker, the longer it is
Fate = Literal["waiting", "skips", "sinks"]


@dataclass
class Stone:
    """A stone that has left the hand. `number` tells it from others; `age_s` counts from the hand."""

    number: int
    fate: Fate = "waiting"
    touches: int = 1
    age_s: float = 0.0
    touched: int = 0

    @property
    def end_s(self) -> float:
        return way_of(self.touches).end_s if self.fate == "skips" else FLIGHT_S + SINK_S


@dataclass(frozen=True)
class Ring:
    """Water moved by a touch: share of the way over the pond, size 0..1, and when on the evening's clock."""

    share: float
    size: float
    begun_s: float


class PondRules(Craft):
    """The evening at the pond. Shares are 0..1; `swing` is how far the arm is drawn back (see `Gauge`).

    `trail` is where the arm was a moment ago.
    """

    def __init__(self, planned: PlannedExercise, seed: int, shelf: Sequence[Product], today: date) -> None:
        super().__init__("skimming_pond", planned, shelf, today)
        self.seed = seed
        self.gauge = Gauge.of_plan(planned)
        self.mark_low, self.mark_high = self.gauge.low_height, self.gauge.high_height
        self.earlier = longest_of_days(self.before)
        self.swing = self.trail = self.held = 0.0
        self.in_hand, self.reached = True, False
        self.stone: Stone | None = None
        self.rings: list[Ring] = []
        self.glow = self.murk = self.stir = self.rested = self.time_s = 0.0
        self._rest_s = 1.0
        self._thrown = 0

    @property
    def let_go(self) -> bool:
        """Held long enough: now the stone wants to fly."""
        return self.in_hand and self.held >= 1.0

    @property
    def best(self) -> int | None:
        """Which of today's prints shows the longest skip."""
        return longest(self.made)

    def step(self, step_s: float, view: RepView, events: Sequence[RepEvent]) -> list[SoundCue]:
        """One tick. Returns the sounds that begin."""
        self.time_s += step_s
        cues = [cue for event in events for cue in self._hear(event)]
        cues += self._draw_back(view)
        cues += self._fly(step_s)
        self._answer(step_s, view)
        self.pass_time(step_s, view)
        self.drone = tone_of(view, self.glow, self.murk)
        return cues

    # --- what the rep engine told ------------------------------------------------------------------------------
    def _hear(self, event: RepEvent) -> list[SoundCue]:
        match event:
            case CueGiven():
                self.in_hand = True
                return [SoundCue("pebble", gain=0.7)]
            case EffortStarted():
                self.held, self.reached = 0.0, False
                self.in_hand = self.in_hand or self.stone is None
            case RepMade(rep):
                return self._skip(rep)
            case RepMissed():
                return self._sink()
            case RestStarted(rest_s=rest_s):
                self._rest_s = max(rest_s, 0.1)
        return self.ended(event)

    def _skip(self, rep: JudgedRep) -> list[SoundCue]:
        """Counted: the stone skips as briskly as the effort rose, and its rings are kept as a print."""
        cues = self._throw()
        self.keep(rep)  # without its note: the touches on the water sound instead
        stone, print_ = self.stone, self.carried[-1]
        touches = touches_in(print_.product)
        if stone is not None:
            stone.fate, stone.touches = "skips", touches
        print_.due_s = way_of(touches).end_s - (stone.age_s if stone else 0.0)
        self.held = 0.0
        return cues

    def _sink(self) -> list[SoundCue]:
        """Not this one: the stone goes under where it first meets the water."""
        self.held = 0.0
        if not self.in_hand and (self.stone is None or self.stone.fate != "waiting"):
            return [SoundCue("sigh", gain=0.55)]  # a stir at rest: no stone was thrown
        cues = self._throw()
        if self.stone:
            self.stone.fate = "sinks"
        return [*cues, SoundCue("sigh", gain=0.55)]

    # --- what the muscle does: at once --------------------------------------------------------------------------
    def _draw_back(self, view: RepView) -> list[SoundCue]:
        self.gauge = Gauge.of(view.low, view.target, view.high)
        effort = view.activation[0] if view.readable else 0.0
        self.swing = self.gauge.height(effort)
        if view.phase != "effort" or not view.readable:
            return []
        before = self.held
        self.held = min(view.held_s / view.hold_s, 1.0) if view.hold_s > 0 else 0.0
        self.reached = self.reached or effort >= view.low
        if self.in_hand and self.reached and effort < LOOSE * view.low:
            return self._throw()
        return [SoundCue("loose", gain=0.7)] if before < 1.0 <= self.held else []

    def _throw(self) -> list[SoundCue]:
        """The stone leaves the hand, unless it already has."""
        if not self.in_hand:
            return []
        self._thrown += 1
        self.in_hand, self.stone = False, Stone(self._thrown)
        return [SoundCue("whoosh", gain=0.7)]

    def _fly(self, step_s: float) -> list[SoundCue]:
        """Move the stone; each touch makes a ring and a note."""
        stone, cues = self.stone, []
        if stone is None:
            return []
        stone.age_s += step_s
        if stone.fate == "waiting":
            stone.age_s = min(stone.age_s, WAITING * FLIGHT_S)
            return []
        way = way_of(stone.touches if stone.fate == "skips" else 1)
        while stone.touched < len(way.times_s) and stone.age_s >= way.times_s[stone.touched]:
            cues.append(self._touch(stone, way.shares[stone.touched]))
        if stone.age_s >= stone.end_s:
            self.stone = None
        return cues

    def _touch(self, stone: Stone, share: float) -> SoundCue:
        last = stone.fate == "skips" and stone.touched == stone.touches - 1
        fresh = [ring for ring in self.rings if self.time_s - ring.begun_s < RING_S]
        size = 1.0 if stone.fate == "sinks" else 1.0 - 0.55 * stone.touched / max(stone.touches - 1, 1)
        self.rings = [*fresh, Ring(share if stone.fate == "skips" else 0.0, size, self.time_s)]
        stone.touched += 1
        if stone.fate == "sinks":
            return SoundCue("plop", gain=0.75)
        return (
            SoundCue("bell", degree=2, gain=0.8) if last else SoundCue(f"plip{(stone.touched - 1) % PLIPS}", gain=0.75)
        )

    # --- what the world answers: eased --------------------------------------------------------------------------
    def _answer(self, step_s: float, view: RepView) -> None:
        self.mark_low = approach(self.mark_low, self.gauge.low_height, step_s, ANSWER_S)
        self.mark_high = approach(self.mark_high, self.gauge.high_height, step_s, ANSWER_S)
        self.trail = approach(self.trail, self.swing, step_s, TRAIL_S)
        working, resting = view.phase == "effort", view.phase in ("rest", "set rest")
        within = working and view.in_band and self.in_hand
        self.glow = approach(self.glow, 1.0 if within else 0.0, step_s, ANSWER_S)
        beyond = view.readable and view.activation[0] > view.high
        self.murk = approach(self.murk, 1.0 if beyond else 0.0, step_s, ANSWER_S)
        stirred = 0.0 if view.quiet or not view.readable else min(0.35 + view.level[0] / max(view.low, 1e-6), 1.0)
        self.stir = approach(self.stir, stirred, step_s, ANSWER_S if stirred > self.stir else STILL_S)
        self.rested = min(max(1 - view.left_s / self._rest_s, 0.0), 1.0) if resting else self.rested


RING_S = 4.0  # how long a ring spreads
PLIPS = 6  # notes a skipping stone may sound
