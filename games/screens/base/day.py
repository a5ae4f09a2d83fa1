"""What the launcher knows of today, and how a session is begun. Screens get this and nothing behind it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import TYPE_CHECKING

from musclewood.games.engine.shelf import Product, shelf_of
from musclewood.games.engine.wishes import Reckoning, Standing
from musclewood.games.home.own_sensors import OwnSensors
from musclewood.games.home.post import Post
from musclewood.games.kit.palette import Season
from musclewood.games.kit.settings import Settings
from musclewood.games.running.todays_plan import plan_for
from musclewood.games.screens.base.page import Page
from musclewood.games.screens.base.scenes import guest_of, season_of
from musclewood.profiles.home.homes import Home
from musclewood.profiles.home.pads import PadPlaces
from musclewood.profiles.journal.history import read_history
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import PRACTICE_SOURCES
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.tables import Muscle
from musclewood.profiles.plan.dose import DayPlan
from musclewood.profiles.plan.retest import RetestDue, retest_due

if TYPE_CHECKING:  # what a session takes is loaded when one begins: Today does not wait for it
    from musclewood.games.engine.how_it_went import Evening
    from musclewood.games.running.retesting import Retesting
    from musclewood.games.running.sources_by_name import Supply
    from musclewood.games.screens.base.play import Attentive, Play

Keep = Callable[[Settings], None]


@dataclass
class Day:
    """plan: None where nothing was ever ordered. sources: kinds that can be begun here, the usual one first.

    begin opens a session on a kind of source; it raises CommandError, JournalError, RecordingError or SensorError.
    keep is called with every changed setting; look plans today anew, after a session. weeks: whole weeks since the
    first session of the plan. hear opens the patient's own sensor outside a session; None where there is none.
    """

    plan: DayPlan | None
    muscles: Sequence[Muscle]
    sources: tuple[str, ...]
    begin: Callable[[str], Play]
    keep: Keep
    look: Callable[[], DayPlan | None]
    shelf: list[Product] = field(default_factory=list)
    practice: bool = False
    weeks: int = 0
    hear: Callable[[], Attentive] | None = None
    post: Post | None = None  # letters from the clinic, where this computer takes them
    letters: Callable[[], Page] | None = None  # the page for them, for screens that stand below it
    order_name: str = ""  # of the order in force: another one has its cautions read anew
    pads: PadPlaces | None = None  # where they lay last time, where this computer keeps it
    retest: RetestDue | None = None  # a test that the order repeats and that is due now
    look_for_test: Callable[[], RetestDue | None] = lambda: None
    begin_retest: Callable[[str], Retesting] | None = None  # opens it on a kind of source; raises as `begin` does
    testing: bool = False  # whether what is begun next is the test
    wanted: str = ""  # the workshop that the first exercise is to be done in, where somebody has already said so
    evenings: Callable[[bool], Sequence[Evening]] = lambda practice: ()  # how they went, the latest first
    sensors: OwnSensors | None = None  # to choose from before a session on `ble`; None where the sensor is given
    reckoning: Reckoning = field(default_factory=Reckoning, repr=False, compare=False)  # of the shelf

    @property
    def offered(self) -> tuple[str, ...]:
        """Sources that make sense now: for the dose while something is asked, else for practice where it is allowed.

        A test is never practice.
        """
        if self.testing:
            return tuple(kind for kind in self.sources if kind not in PRACTICE_SOURCES)
        asked = bool(self.plan and self.plan.exercises)
        return tuple(
            kind for kind in self.sources if (self.practice if kind in PRACTICE_SOURCES else asked) and self.plan
        )

    @property
    def awake(self) -> tuple[str, ...]:
        """Places where something is to be done today."""
        exercises = self.plan.exercises if self.plan else ()
        return tuple(dict.fromkeys(place for exercise in exercises for place in exercise.workshops))

    @property
    def season(self) -> Season:
        """The season in the village."""
        return season_of(self.weeks)

    @property
    def guest(self) -> int:
        """Who visits the village this week."""
        return guest_of(self.weeks)

    @property
    def standing(self) -> Standing:
        """What the village has come to by all that was made."""
        return self.reckoning.of(self.shelf)[0]

    @property
    def ear(self) -> Callable[[], Attentive] | None:
        """Opens the sensor that was worn last, if there is one."""
        return self.hear if self.sensors is None or self.sensors.worn else None

    @property
    def first_place(self) -> str:
        """Where the first exercise is asked for: of the workshops that it may be done in, where least was made."""
        exercises = self.plan.exercises if self.plan else ()
        made = Counter(product.workshop for product in self.shelf)
        return min(exercises[0].workshops, key=lambda place: made[place])

    def want(self, place: str) -> None:
        """Begin in this workshop, where the first exercise leaves a choice."""
        places = self.plan.exercises[0].workshops if self.plan and self.plan.exercises else ()
        self.wanted = place if len(places) > 1 and place in places else ""

    def refresh(self) -> None:
        """Plan again: what was done is done."""
        self.plan, self.retest, self.testing = self.look(), self.look_for_test(), False
        self.wanted = ""


def nothing_ordered(keep: Keep) -> Day:
    """Before there is any prescription."""

    def begin(kind: str) -> Play:
        raise ValueError(f"nothing was ordered, so nothing can begin on {kind}")

    return Day(None, (), (), begin, keep, lambda: None)


def day_of(
    prescription: Prescription,
    journal: Journal,
    supplies: Mapping[str, Callable[[], Supply]],
    *,
    clock: Callable[[], datetime],
    keep: Keep,
    seed: int = 0,
) -> Day:
    """Today as prescription and journal have it. `supplies` makes the source of each kind that is offered."""

    def look() -> DayPlan:
        return plan_for(prescription, read_history(journal), clock(), practice=False)

    def begin(kind: str) -> Play:
        from musclewood.games.running.setting_up import set_up
        from musclewood.games.screens.base.play import Attentive, Play

        supply = supplies[kind]()
        sitting = set_up(prescription, journal, supply, clock=clock, listen=Attentive)
        shelf = shelf_of(journal, prescription.timezone, practice=kind in PRACTICE_SOURCES)
        return Play(sitting.conductor, today=sitting.plan.day, seed=seed, shelf=shelf, player=supply.player)

    def look_for_test() -> RetestDue | None:
        return retest_due(prescription, read_history(journal), clock())

    def begin_retest(kind: str) -> Retesting:
        from musclewood.games.running.retesting import retesting
        from musclewood.games.screens.base.play import Attentive

        return retesting(prescription, journal, supplies[kind](), clock=clock, listen=Attentive)

    def hear() -> Attentive:
        from musclewood.games.screens.base.play import Attentive

        return Attentive(supplies["ble"]().source)

    def evenings(practice: bool) -> Sequence[Evening]:
        from musclewood.games.engine.how_it_went import Evenings

        return Evenings(journal, prescription, practice=practice)

    now, past = clock(), read_history(journal)  # once for both
    return Day(
        plan_for(prescription, past, now, practice=False),
        prescription.muscles,
        tuple(supplies),
        begin,
        keep,
        look,
        shelf_of(journal, prescription.timezone),
        prescription.practice.allowed,
        weeks_since_the_first(journal, now),
        hear if "ble" in supplies else None,
        order_name=name_of(prescription),
        pads=_pads_of(prescription, journal),
        retest=retest_due(prescription, past, now) if set(supplies) - set(PRACTICE_SOURCES) else None,
        look_for_test=look_for_test,
        begin_retest=begin_retest,
        evenings=evenings,
    )


def _pads_of(prescription: Prescription, journal: Journal) -> PadPlaces | None:
    """Kept in the home that the journal lies in."""
    if journal.path.parent.name != "journals":
        return None
    return PadPlaces(Home(journal.path.parent.parent).pads_path(prescription.patient))


def name_of(prescription: Prescription) -> str:
    """An order's name: whose it is, which revision, and when it was issued."""
    return f"{prescription.patient} {prescription.revision} {prescription.issued.isoformat()}"


def weeks_since_the_first(journal: Journal, now: datetime) -> int:
    """Whole weeks since the first session that counted towards the plan; 0 before it, or while the clock is wrong."""
    first = next((session for session in journal.sessions() if not session.practice), None)
    return max(0, (now - datetime.fromisoformat(first.start.started_at)).days // 7) if first else 0
