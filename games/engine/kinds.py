"""Each kind of exercise in one place: how it is judged, how a person does it, how it is sketched, offered and spoken
of.

What it orders and asks of the muscles stands with its model in `profiles/orders/exercises.py`; the judges themselves
are in `judging.py`. A kind with a model but no entry here fails at import.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

from musclewood.games.engine.judging import (
    Attempt,
    HoldAttempt,
    PairedAttempt,
    QuickAttempt,
    RelaxAttempt,
    SelectiveAttempt,
    TrackAttempt,
)
from musclewood.games.engine.patterns import BothAlike, Briefly, LyingStill, Pattern, WithTheWay
from musclewood.profiles.orders.exercises import KINDS, Traits

Progress = Literal["steadier", "brisker", "quieter"]
Way = Sequence[tuple[float, float]]  # shares of width and height, from the lower left corner


@dataclass(frozen=True)
class Sketch:
    """What effort does, as a hand would draw it: one way for each muscle, the band as (low, high), a way to follow."""

    ways: tuple[Way, ...]
    band: tuple[float, float] | None = None
    followed: bool = False


@dataclass(frozen=True)
class Kind:
    """One kind.

    attempt: its judge. pattern: how it is done. sketch: for the card that offers it.
    dose: what the desk offers for a new one, by the names of the order (a light start; our choice throughout).
    effort: the same for its effort. example: what differs from a hold where the gallery shows one, by the names of a
    planned exercise. other: the second muscle's share of the effort in that example.
    ready, going: the sentences (keys of the catalogue) before the effort and while it goes well.
    told: the codes of `results.py` that its workshops have words of their own for. even: whether a steady one is told
    as such; else `result.good.NAME` says what was good. progress: what gets better with practice.
    """

    name: str
    attempt: type[Attempt]
    pattern: Pattern
    sketch: Sketch
    dose: Mapping[str, Any]
    effort: Mapping[str, float]
    example: Mapping[str, Any] = field(default_factory=dict)
    other: float = 0.0
    ready: str = "frame.ready"
    going: str = "frame.effort"
    told: tuple[str, ...] = ("weak", "short", "over")
    even: bool = False
    progress: Progress = "steadier"

    @property
    def traits(self) -> Traits:
        return KINDS[self.name].traits


_REST: Way = ((0.0, 0.05), (0.12, 0.05))
_HOLD: Way = (*_REST, (0.22, 0.62), (0.5, 0.65), (0.76, 0.62), (0.86, 0.05), (1.0, 0.05))
_WORKING = {
    "target_pct_mvc": 30.0,
    "min_pct_mvc": 20.0,
    "max_pct_mvc": 45.0,
    "tolerance_pct_mvc": 8.0,
    "ceiling_pct_mvc": 60.0,
}
_SETS = {"sets": 2, "reps": 6, "set_rest_s": 60.0, "quiet_pct_mvc": 8.0}

_ALL = (
    Kind(
        name="hold",
        attempt=HoldAttempt,
        pattern=Pattern(),
        sketch=Sketch((_HOLD,), band=(0.5, 0.78)),
        dose={**_SETS, "hold_s": 5.0, "rest_s": 10.0},
        effort=_WORKING,
        even=True,
    ),
    Kind(
        name="quick",
        attempt=QuickAttempt,
        pattern=Briefly(),
        sketch=Sketch(
            (
                (
                    *((0.0, 0.05), (0.1, 0.05), (0.14, 0.66), (0.2, 0.66), (0.25, 0.05)),
                    *((0.42, 0.05), (0.46, 0.64), (0.52, 0.66), (0.57, 0.05)),
                    *((0.75, 0.05), (0.79, 0.66), (0.85, 0.64), (0.9, 0.05), (1.0, 0.05)),
                ),
            ),
            band=(0.5, 0.8),
        ),
        dose={**_SETS, "hold_s": 0.5, "rest_s": 5.0, "rise_s": 0.5},
        effort=_WORKING,
        example={"hold_s": 0.3, "rest_s": 3.0},
        ready="frame.quick-ready",
        told=("weak", "slow", "short", "over", "late"),
        progress="brisker",
    ),
    Kind(
        name="track",
        attempt=TrackAttempt,
        pattern=WithTheWay(),
        sketch=Sketch((((0, 0.1), (0.16, 0.3), (0.32, 0.66), (0.48, 0.36), (0.64, 0.5), (0.8, 0.85), (1, 0.25)),),
        followed=True),
        dose={**_SETS, "sets": 1, "reps": 5, "hold_s": 10.0, "rest_s": 12.0, "pattern": (0.4, 0.7, 1.0, 0.7, 0.4)},
        effort=_WORKING,
        example={"hold_s": 12.0, "pattern": (0.4, 0.7, 1.0, 0.6, 0.9, 1.2, 0.8, 0.4), "tolerance_pct_mvc": 8.0},
        ready="frame.track-ready",
        going="frame.track",
        told=("weak", "short", "over", "late"),
    ),
    Kind(
        name="relax",
        attempt=RelaxAttempt,
        pattern=LyingStill(),
        sketch=Sketch((((0, 0.13), (0.2, 0.08), (0.4, 0.12), (0.6, 0.07), (0.8, 0.1), (1, 0.08)),), band=(0.0, 0.22)),
        dose={"sets": 1, "reps": 6, "hold_s": 8.0, "rest_s": 5.0, "set_rest_s": 60.0},
        effort={
            "target_pct_mvc": 8.0,
            "min_pct_mvc": 4.0,
            "max_pct_mvc": 14.0,
            "tolerance_pct_mvc": 1.0,
            "ceiling_pct_mvc": 30.0,
        },
        example={"hold_s": 8.0, "target_pct_mvc": 5.0, "tolerance_pct_mvc": 3.0},
        ready="frame.relax-ready",
        going="frame.relax-effort",
        told=("stirred",),
        progress="quieter",
    ),
    Kind(
        name="selective",
        attempt=SelectiveAttempt,
        pattern=Pattern(),
        sketch=Sketch((_HOLD, ((0, 0.04), (0.3, 0.1), (0.6, 0.07), (1, 0.05))), band=(0.5, 0.78)),
        dose={**_SETS, "hold_s": 3.0, "rest_s": 8.0, "opposite_ceiling_pct_mvc": 15.0},
        effort=_WORKING,
        example={"channels": (0, 1), "opposite_ceiling_pct_mvc": 12.0},
        other=0.075,
        told=("weak", "short", "over", "helped"),
        even=True,
    ),
    Kind(
        name="paired",
        attempt=PairedAttempt,
        pattern=BothAlike(),
        sketch=Sketch((_HOLD, tuple((x, y - 0.07 if y > 0.3 else y + 0.02) for x, y in _HOLD)), band=(0.44, 0.78)),
        dose={**_SETS, "hold_s": 3.0, "rest_s": 8.0, "difference_pct_mvc": 15.0},
        effort=_WORKING,
        example={"channels": (0, 1), "difference_pct_mvc": 10.0, "sides": ("left", "right")},
        other=1.08,
        going="frame.paired",
        told=("weak", "short", "over", "unlike"),
        even=True,
    ),
)  # fmt: skip

OF_KIND: Mapping[str, Kind] = {kind.name: kind for kind in _ALL}
if set(OF_KIND) != set(KINDS):
    raise ImportError(f"kinds that are ordered or played, but not both: {sorted(set(OF_KIND) ^ set(KINDS))}")


def progress_of(kind: str) -> Progress:
    """What gets better with practice, also for a kind that this version does not know."""
    return OF_KIND[kind].progress if kind in OF_KIND else "steadier"
