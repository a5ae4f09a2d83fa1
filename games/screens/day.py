"""What the launcher knows of today, and how a session is begun. Screens get this and nothing behind it."""

from collections.abc import Callable
from dataclasses import dataclass, field

from musclewood.games.kit.settings import Settings
from musclewood.games.screens.play import Play
from musclewood.games.shelf import Product
from musclewood.profiles.dose import DayPlan
from musclewood.profiles.prescription import Muscle

SourceKind = str  # 'ble', 'replay', 'simulated', 'keyboard'


@dataclass
class Day:
    """plan: None where nothing was ever ordered. sources: kinds that can be begun here, the usual one first.

    begin opens a session on a kind of source; it raises SensorError if the patient must mend something.
    keep is called with every changed setting.
    """

    plan: DayPlan | None
    muscles: tuple[Muscle, ...]
    sources: tuple[SourceKind, ...]
    begin: Callable[[SourceKind], Play]
    keep: Callable[[Settings], None]
    shelf: list[Product] = field(default_factory=list)
    practice: bool = False

    @property
    def can_begin(self) -> bool:
        return bool(self.plan and self.plan.exercises) and bool(self.sources)

    @property
    def awake(self) -> tuple[str, ...]:
        """Places where something is to be done today."""
        exercises = self.plan.exercises if self.plan else ()
        return tuple(dict.fromkeys(place for exercise in exercises for place in exercise.workshops))

    @property
    def first_place(self) -> str:
        return self.awake[0]
