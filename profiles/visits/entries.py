"""What the clinic writes down about a patient besides orders: one entry each, never changed afterwards.

Tests keep their trials, also those that were set aside and why. People are codes: the patient's, and initials.
"""

from __future__ import annotations

import re
from datetime import date
from typing import Annotated, Literal

from musclewood.assets.saying import Saying, say
from musclewood.profiles.orders.exercises import Identifier, OneLine, PctMvc, Table
from musclewood.profiles.orders.tables import Pain
from pydantic import AwareDatetime, Field, StringConstraints, model_validator

FORMAT: Literal["musclewood-visit/1"] = "musclewood-visit/1"
# A code of a few letters that means somebody only to the clinic (our choice).
INITIALS = r"^[A-Z]{2,4}[0-9]{0,2}$"
Initials = Annotated[str, Field(pattern=INITIALS)]
Microvolt = Annotated[float, Field(gt=0, le=50_000)]
Side = Literal["left", "right"]
# Why a trial does not count: chosen, so that there is nowhere to write a name.
Reason = Literal["not-maximal", "moved", "cable", "pain", "early", "noise", "other"]
REASONS: tuple[Reason, ...] = ("not-maximal", "moved", "cable", "pain", "early", "noise", "other")
Purpose = Literal["visit", "before operation"]


class Trial(Table):
    """One contraction of a test. `set_aside` says why it does not count, None while it does."""

    value_uv: Microvolt
    set_aside: Reason | None = None


class MuscleTrials(Table):
    """One muscle on one side."""

    muscle: Identifier
    name: Annotated[str, Field(min_length=1, max_length=60), OneLine]
    side: Side
    channel: Annotated[int, Field(ge=0, le=15)]
    rest_uv: Microvolt
    trials: Annotated[tuple[Trial, ...], Field(min_length=1, max_length=12)]

    @property
    def used_uv(self) -> tuple[float, ...]:
        """The trials that count, in µV."""
        return tuple(trial.value_uv for trial in self.trials if trial.set_aside is None)


class ReferenceTest(Table):
    """A maximum, or a submaximal reference under its name (`orders/reference.py`)."""

    test: Literal["reference"] = "reference"
    reference: Annotated[str, Field(min_length=1, max_length=40), OneLine]
    found: MuscleTrials
    reference_uv: Microvolt
    low_uv: Microvolt
    high_uv: Microvolt


class SidesTest(Table):
    """Both sides, maximal. `first` is the side that began; `way` how one or two channels saw both.

    `deficit_pct` is of the involved side against the other, with the 95 % interval that trials and placement allow.
    """

    test: Literal["sides"] = "sides"
    involved: MuscleTrials
    uninvolved: MuscleTrials
    first: Literal["involved", "uninvolved"]
    way: Literal["two channels", "moved sensor", "both at once"]
    purpose: Purpose = "visit"
    deficit_pct: float
    low_pct: float
    high_pct: float
    says: Literal["weaker", "stronger", "left open"]


class OppositeTest(Table):
    """The opposite muscle while the agonist holds the asked effort: index in %, and the ceiling proposed for it."""

    test: Literal["opposite"] = "opposite"
    agonist: Identifier
    opposite: Identifier
    target_pct_mvc: PctMvc
    opposite_pct_mvc: Annotated[tuple[float, ...], Field(min_length=1, max_length=12)]
    index_pct: Annotated[float, Field(ge=0, le=100)]
    ceiling_pct_mvc: PctMvc


class Hold(Table):
    """One hold of the effort ladder: what was asked, and whether it was made."""

    target_pct_mvc: PctMvc
    made: bool


class LadderTest(Table):
    """At most twelve holds, and the effort, band and hold that they propose."""

    test: Literal["ladder"] = "ladder"
    muscle: Identifier
    reference: Annotated[str, Field(min_length=1, max_length=40), OneLine]
    holds: Annotated[tuple[Hold, ...], Field(min_length=1, max_length=12)]
    ended: Literal["enough", "pain", "stopped"]
    target_pct_mvc: PctMvc | None = None
    tolerance_pct_mvc: PctMvc | None = None
    hold_s: Annotated[float, Field(gt=0, le=60)] | None = None
    success: Annotated[float, Field(ge=0, le=1)] | None = None


Result = ReferenceTest | SidesTest | OppositeTest | LadderTest


class Examination(Table):
    """A test with the pain answers around it, of 10. `recording` names the EDF+ file, if samples were kept."""

    what: Literal["test"] = "test"
    result: Annotated[Result, Field(discriminator="test")]
    pain: tuple[Pain, ...] = ()
    source: Annotated[str, Field(max_length=40), OneLine] = ""
    recording: Annotated[str, Field(max_length=80), OneLine] | None = None


class TrialSetAside(Table):
    """A trial of an earlier entry is taken out afterwards; the entry itself stays as it was."""

    what: Literal["set-aside"] = "set-aside"
    entry: Annotated[int, Field(ge=1)]
    side: Literal["involved", "uninvolved", "only"] = "only"
    trial: Annotated[int, Field(ge=1, le=12)]
    reason: Reason


class Away(Table):
    """Nobody counts as silent from the first to the last of these days."""

    what: Literal["away"] = "away"
    first: date
    last: date

    @model_validator(mode="after")
    def _in_order(self) -> Away:
        if self.last < self.first:
            raise ValueError("the last day lies before the first")
        return self


class Discharge(Table):
    """Done: a summary in figures, then out of the daily list."""

    what: Literal["discharge"] = "discharge"
    on: date
    why: Literal["goal reached", "patient's wish", "moved elsewhere", "clinic's decision"]
    sessions: Annotated[int, Field(ge=0)] = 0
    adherence_pct: float | None = None
    summary: tuple[Annotated[str, StringConstraints(max_length=200, strip_whitespace=True)], ...] = ()


class Return(Table):
    """Back in the daily list after a discharge."""

    what: Literal["return"] = "return"
    on: date


class Signed(Table):
    """A revision was signed with the clinic's key, and what was acknowledged in it."""

    what: Literal["signed"] = "signed"
    revision: Annotated[int, Field(ge=1)]
    acknowledged: tuple[str, ...] = ()


Content = Examination | TrialSetAside | Away | Discharge | Return | Signed


def initials_problem(text: str) -> Saying | None:
    """Why a code of initials cannot be taken; None where it can, or where there is none."""
    return None if not text or re.fullmatch(INITIALS, text) else say("wrong.no-initials", text=text)


class Entry(Table):
    """`number` counts a patient's entries from 1; `before` is the SHA-256 of the entry before, which ties them."""

    format: Literal["musclewood-visit/1"] = FORMAT
    patient: Annotated[str, Field(pattern=r"^[A-Z]{2,4}-[0-9]{3,5}$")]
    number: Annotated[int, Field(ge=1)]
    at: AwareDatetime
    by: Initials | None = None
    before: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    content: Annotated[Content, Field(discriminator="what")]
