"""The tables that an order is made of, besides its exercises."""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal

from musclewood.profiles.orders.exercises import Identifier, OneLine, Sentence, Table
from pydantic import Field

Day = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
DAYS: tuple[Day, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
Pain = Annotated[int, Field(ge=0, le=10)]


class Practice(Table):
    """Whether the workshops may be tried with the keyboard or a simulated muscle. Practice never counts as dose."""

    allowed: bool = True


Contraction = Literal["maximum", "task", "comfortable"]
# Defined submaximal tasks: a limb held against gravity, or with a named load (PUBLISHED in `reference.py` has sources).
Task = Literal[
    "arm-sideways", "arm-sideways-1kg", "arms-sideways", "arms-sideways-1kg", "elbow-bent-1kg", "hand-up", "leg-raised",
    "knee-straight", "knee-straight-1kg", "foot-up", "heels-up", "hip-up", "brows-up", "smile",
]  # fmt: skip


class CalibrationOrder(Table):
    """How today's reference is found. The wide ranges let short recordings be replayed through it.

    `reference` says which contraction is 100 %: a maximal one (%MVC), or, where a maximum is unwise, a submaximal one
    (%RVC): a defined `task`, or the `share` of what is comfortable. A trial may start `start_s` after its cue, and the
    muscle may take `release_s` to let go; without them the program goes by what the person showed, within bounds.
    """

    rest_s: Annotated[float, Field(ge=1, le=60)] = 6.0
    trials: Annotated[int, Field(ge=1, le=5)] = 3
    trial_s: Annotated[float, Field(ge=1, le=10)] = 4.0
    rest_between_s: Annotated[float, Field(ge=1, le=180)] = 30.0
    every: Literal["session", "day", "week"] = "session"
    reference: Contraction = "maximum"
    task: Task | None = None
    share: Literal["half", "three-quarters", "all"] = "all"
    start_s: Annotated[float, Field(ge=1, le=20)] | None = None
    release_s: Annotated[float, Field(ge=0.5, le=20)] | None = None


class StopRules(Table):
    """When to stop and when to go easier. Clinics disagree on pain thresholds, so the therapist must state them."""

    pain_stop: Pain
    pain_lighten: Pain
    pain_rise_stop: Annotated[int, Field(ge=1, le=10)]
    # How much the target falls, relative, for the session after pain at or above `pain_lighten`.
    lighten_pct: Annotated[float, Field(ge=0, le=50)] = 10.0
    # Sessions in a row without such pain before scaling may raise anything again.
    calm_sessions: Annotated[int, Field(ge=1, le=20)] = 2
    # Relative decline of the median frequency within a set at which the set is cut short. Our choice: real quadriceps
    # recordings fall by about a third at most (Dimitrov 2006), and home exercise should end well before that.
    fatigue_decline_pct: Annotated[float, Field(ge=5, le=60)] = 20.0


class Ceilings(Table):
    """What no play may exceed. Every attempt counts here, made or missed: a missed rep loads the muscle too."""

    reps_per_day: Annotated[int, Field(ge=1, le=2000)]
    reps_per_week: Annotated[int, Field(ge=1, le=10000)]
    minutes_per_day: Annotated[float, Field(ge=1, le=240)]
    sessions_per_week: Annotated[int, Field(ge=1, le=28)]


class Muscle(Table):
    id: Identifier
    name: Annotated[str, Field(min_length=1, max_length=60)]
    side: Literal["left", "right"]
    role: Literal["involved", "uninvolved", "opposite"]
    placement: Sentence
    channel: Annotated[int, Field(ge=0, le=15)]


RetestKind = Literal["both-sides", "maximum"]


class Retest(Table):
    """A test that is repeated at home, led on the screen: both sides or the maximum of the first involved muscle.

    It is due on `first`, and from then on every so many weeks; one that was missed is done once, on a later day.
    """

    test: RetestKind
    every_weeks: Annotated[int, Field(ge=1, le=26)] = 4
    first: date


class Limits(Table):
    """What limits the order, chosen from what is offered: there is no room for a diagnosis in words.

    Angles are those of the joint that may be used, in degrees from straight. `group` is one for which other doses are
    usual.
    """

    group: Literal["stroke", "face", "child"] | None = None
    operation: (
        Literal["acl-reconstruction", "meniscus-repair", "knee-replacement", "shoulder-repair", "tendon-repair"] | None
    ) = None
    graft: Literal["hamstring", "patellar-tendon", "quadriceps-tendon", "donor"] | None = None
    weeks_since: Annotated[int, Field(ge=0, le=260)] | None = None
    angle_from_deg: Annotated[int, Field(ge=0, le=180)] | None = None
    angle_to_deg: Annotated[int, Field(ge=0, le=180)] | None = None


class EnclosedSensor(Table):
    """The description of a sensor that fits, sent along so that nobody has to copy a file at home.

    `id` is what the description's file is called without its ending, `name` the sensor's own, `text` the file. Whoever
    reads samples by it checks it as any other; here it is only carried.
    """

    id: Identifier
    name: Annotated[str, Field(min_length=1, max_length=80), OneLine]
    text: Annotated[str, Field(min_length=1, max_length=20_000)]


class Description(Table):
    """What the Consensus on Exercise Reporting Template asks beside the dose (Slade 2016), in the therapist's words."""

    equipment: Sentence | None = None
    provider: Sentence | None = None
    delivery: Sentence | None = None
    supervision: Sentence | None = None
    adherence: Sentence | None = None
    motivation: Sentence | None = None
    progression: Sentence | None = None
    other_parts: Sentence | None = None
    adverse_events: Sentence | None = None
    setting: Sentence | None = None
    tailoring: Sentence | None = None
    starting_level: Sentence | None = None
    fidelity: Sentence | None = None
    dose_in_words: Sentence | None = None
