"""What a therapist may order: effort, the room scaling has, and the kinds of exercise, each specified in one place.

A kind is one class here, with its parameters and its `traits`; how it is judged, played and drawn says
`games/engine/kinds.py`. Whatever else must know of kinds reads these two.

Every bound here is our choice unless a source stands beside it; they keep slips of the pen out (a rest of 0 s, an
effort of 250 %MVC), while the cross checks in `checks.py` keep the parts of one order consistent with each other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated, ClassVar, Literal, Union, get_args
from zoneinfo import ZoneInfo

from musclewood.assets.saying import say
from musclewood.profiles.disk.plain_text import is_one_line, is_plain
from pydantic import AfterValidator, BaseModel, ConfigDict, Field

Kind = str  # one of `KINDS`

# Which workshops there are, and which kinds they play, the workshops say themselves, where games and orders meet.
Workshop = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]{0,31}$")]
Identifier = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]{0,31}$")]


def _plain(text: str) -> str:
    if not is_plain(text):
        raise ValueError(say("mend.no-control"))
    return text


def _one_line(text: str) -> str:
    if not is_one_line(text):
        raise ValueError(say("mend.one-line"))
    return text


def _known_zone(name: str) -> str:
    try:
        ZoneInfo(name)
    except (ValueError, OSError, KeyError):
        raise ValueError(say("mend.zone")) from None
    return name


OneLine = AfterValidator(_one_line)
TimeZone = Annotated[str, AfterValidator(_known_zone)]  # by its name in the IANA time zone database
Sentence = Annotated[str, Field(min_length=1, max_length=400), AfterValidator(_plain)]
PctMvc = Annotated[float, Field(ge=1, le=120)]
Fraction = Annotated[float, Field(ge=0, le=1)]


class Table(BaseModel):
    """One table of a prescription: cannot be changed once read, and knows no key but its own."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, allow_inf_nan=False, defer_build=True)


class Effort(Table):
    """The effort asked for, in % of the reference MVC.

    `within` asks for a band, `target +/- tolerance`; `at least` for the target or more, as far as the ceiling, and then
    the tolerance has no meaning. Scaling may move the target from `min` to `max`; a rep above `ceiling` is `over`.
    A program that does not know `asks` refuses the order, as any key unknown to it.
    """

    asks: Literal["within", "at least"] = "within"

    target_pct_mvc: PctMvc
    min_pct_mvc: PctMvc
    max_pct_mvc: PctMvc
    tolerance_pct_mvc: Annotated[float, Field(ge=1, le=40)]
    ceiling_pct_mvc: PctMvc

    @property
    def at_least(self) -> bool:
        return self.asks == "at least"

    @property
    def band_pct_mvc(self) -> float:
        """Half-width of the band; 0 where at least the target is asked for."""
        return 0.0 if self.at_least else self.tolerance_pct_mvc


class ScalingBounds(Table):
    """How far the program may move an exercise by itself. `on = false` leaves it exactly as ordered."""

    on: bool = True
    # The share of reps that should succeed. 0.8 is our choice: near the 70 to 85 % that adaptive procedures aim at
    # (Levitt 1971; Wilson 2019 gives 0.84 for an ideal learner), on the kind side for somebody alone at home.
    success_target: Annotated[float, Field(ge=0.5, le=0.95)] = 0.8
    # The most that the target may move from one session to the next.
    step_pct_mvc: Annotated[float, Field(ge=0.5, le=20)] = 5.0
    tolerance_min_pct_mvc: Annotated[float, Field(ge=1, le=40)] | None = None
    tolerance_max_pct_mvc: Annotated[float, Field(ge=1, le=40)] | None = None
    # Rest may grow from the ordered `rest_s` up to this, never shrink below it.
    rest_max_s: Annotated[float, Field(ge=1, le=600)] | None = None


@dataclass(frozen=True)
class Traits:
    """What the program must know of a kind, whatever it does with it.

    muscles: how many an exercise names, the one that is trained first; `partner` is the role of the second.
    trained: places, among those muscles, of the ones that work, and must come to rest between repetitions.
    begins_itself: an attempt begins a moment after the cue, rather than when the muscle answers.
    still: it asks a muscle for quiet instead of effort.
    open_above: whether it may ask for at least an effort; a pattern or quiet may not.
    harder: which way the target goes when the exercise gets harder: 1 rises, -1 falls.
    """

    muscles: int = 1
    partner: Literal["opposite", "uninvolved"] | None = None
    trained: tuple[int, ...] = (0,)
    begins_itself: bool = False
    still: bool = False
    open_above: bool = True
    harder: Literal[1, -1] = 1

    def __post_init__(self) -> None:
        if (self.partner is None) != (self.muscles == 1) or max(self.trained) >= self.muscles:
            raise ValueError(f"these traits contradict each other: {self}")


class AnyExercise(Table):
    """What every kind of exercise orders. `quiet_pct_mvc`: below it a muscle counts as at rest between repetitions."""

    traits: ClassVar[Traits]

    id: Identifier
    title: Annotated[str, Field(min_length=1, max_length=80), OneLine]
    note: Sentence | None = None
    kind: str
    workshops: Annotated[tuple[Workshop, ...], Field(min_length=1, max_length=12, strict=False)]
    muscles: Annotated[tuple[Identifier, ...], Field(min_length=1, max_length=2, strict=False)]
    sets: Annotated[int, Field(ge=1, le=20)]
    reps: Annotated[int, Field(ge=1, le=100)]
    hold_s: Annotated[float, Field(ge=0.3, le=60)]
    rest_s: Annotated[float, Field(ge=1, le=300)]
    set_rest_s: Annotated[float, Field(ge=1, le=900)]
    effort: Effort
    scaling: ScalingBounds = ScalingBounds()
    # How often a good repetition is told of, and how many are done without seeing the effort.
    results: Literal["by skill", "half", "always"] = "by skill"
    door_closed: Literal["never", "by skill", "quarter", "half"] = "never"

    if TYPE_CHECKING:

        @property
        def quiet_pct_mvc(self) -> float: ...

    @classmethod
    def own_parameters(cls) -> tuple[str, ...]:
        """The names of the parameters that this kind has beyond those of every kind."""
        return tuple(name for name in cls.model_fields if name not in AnyExercise.model_fields)


class _Contracting(AnyExercise):
    # 8 % is our choice: above ordinary resting tone, well below any band worth ordering.
    quiet_pct_mvc: Annotated[float, Field(ge=1, le=40)] = 8.0


class Hold(_Contracting):
    """A steady isometric hold in the band for `hold_s`."""

    traits = Traits()
    kind: Literal["hold"]


class Quick(_Contracting):
    """Into the band within `rise_s` of the onset, there for `hold_s`, then fully off."""

    traits = Traits()
    kind: Literal["quick"]
    rise_s: Annotated[float, Field(ge=0.1, le=5)] = 0.5


class Track(_Contracting):
    """Follow a pattern that lasts `hold_s`: points evenly spaced in time, joined by lines, as
    fractions of the target."""

    traits = Traits(begins_itself=True, open_above=False)
    kind: Literal["track"]
    pattern: Annotated[tuple[Fraction, ...], Field(min_length=2, max_length=64, strict=False)]


class Relax(AnyExercise):
    """Stay below `effort.target_pct_mvc` for `hold_s`. A harder order is a lower target."""

    traits = Traits(begins_itself=True, still=True, open_above=False, harder=-1)
    kind: Literal["relax"]

    @property
    def quiet_pct_mvc(self) -> float:
        return self.effort.target_pct_mvc


class Selective(_Contracting):
    """The first muscle in the band for `hold_s` while the second stays below its ceiling."""

    traits = Traits(muscles=2, partner="opposite")
    kind: Literal["selective"]
    opposite_ceiling_pct_mvc: Annotated[float, Field(ge=1, le=100)]


class Paired(_Contracting):
    """Both muscles in the band for `hold_s`, never further apart than the difference."""

    traits = Traits(muscles=2, partner="uninvolved", trained=(0, 1))
    kind: Literal["paired"]
    difference_pct_mvc: Annotated[float, Field(ge=1, le=60)]


def _kinds(family: type[AnyExercise]) -> Mapping[str, type[AnyExercise]]:
    """Every kind by the name that stands in an order, in the order of this page.
    AttributeError: one says no `traits`."""
    found: dict[str, type[AnyExercise]] = {}
    for model in family.__subclasses__():
        names = get_args(model.model_fields["kind"].annotation)
        if names:
            assert isinstance(model.traits, Traits)
            found[names[0]] = model
        found.update(_kinds(model))
    return found


_WRITTEN = list(globals().values())
KINDS = dict(sorted(_kinds(AnyExercise).items(), key=lambda one: _WRITTEN.index(one[1])))
if TYPE_CHECKING:
    Exercise = AnyExercise
else:
    Exercise = Annotated[Union[tuple(KINDS.values())], Field(discriminator="kind")]  # noqa: UP007


def asked_of(exercise: AnyExercise) -> str:
    """The effort asked for, in figures: '30 ± 8', 'at least 30' or 'below 8' (of the reference, in %)."""
    effort = exercise.effort
    if exercise.traits.still:
        return f"below {effort.target_pct_mvc:g}"
    if effort.at_least:
        return f"at least {effort.target_pct_mvc:g}"
    return f"{effort.target_pct_mvc:g} ± {effort.tolerance_pct_mvc:g}"


def at_effort(exercise: AnyExercise, *, band: bool = True) -> str:
    """The same inside a sentence: 'at 30 ± 8 %MVC', 'at least 30 %MVC'; without `band` its middle alone."""
    asked = asked_of(exercise) if band else asked_of(exercise).partition(" ±")[0]
    return f"{'' if asked[0].isalpha() else 'at '}{asked} %MVC"


def reps_of(exercise: AnyExercise) -> int:
    """Reps of one session."""
    return exercise.sets * exercise.reps


def minutes_of(exercise: AnyExercise) -> float:
    """How long one session of it takes when every rep succeeds, rests between sets included."""
    inside_s = exercise.sets * (exercise.reps * exercise.hold_s + (exercise.reps - 1) * exercise.rest_s)
    return (inside_s + (exercise.sets - 1) * exercise.set_rest_s) / 60
