"""Tests of the clinic and those repeated at home, the oldest first, each beside the first one. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.journal.records import RetestRecord
from musclewood.profiles.plan.comparing import SideComparison, compare_sides
from musclewood.profiles.plan.side_ratio import BothSides
from musclewood.profiles.visits.entries import Entry, MuscleTrials, ReferenceTest, SidesTest
from musclewood.profiles.visits.standing import results_of

Where = Literal["clinic", "home"]


@dataclass(frozen=True)
class Tested:
    """One test of a muscle, maximal. `other` are the trials of the other side, where it was tested; all in µV."""

    at: datetime
    where: Where
    name: str
    side: str
    involved: tuple[float, ...]
    other: tuple[float, ...] = ()
    before_operation: bool = False

    @property
    def sides(self) -> SideComparison | None:
        """The involved side against the other one; None where that was not tested, or hardly."""
        return compare_sides(self.involved, self.other) if min(len(self.involved), len(self.other)) >= 2 else None

    @property
    def mean_uv(self) -> float:
        return sum(self.involved) / len(self.involved)

    def against(self, first: Tested) -> SideComparison | None:
        """The involved side against itself at an earlier test: placement differs as much as between two sides."""
        if first is self or min(len(self.involved), len(first.involved)) < 2:
            return None
        return compare_sides(self.involved, first.involved)


@dataclass(frozen=True)
class Row:
    """A test, and how it compares with the first of the same muscle; `change` is None for that one itself."""

    test: Tested
    change: SideComparison | None


def rows(tests: Sequence[Tested]) -> list[Row]:
    """By muscle, the oldest first."""
    found: list[Row] = []
    for key in dict.fromkeys((one.name, one.side) for one in tests):
        same = [one for one in tests if (one.name, one.side) == key]
        found += [Row(one, one.against(same[0])) for one in same]
    return found


def tested(entries: Sequence[Entry], sessions: Sequence[LedgerSession]) -> list[Tested]:
    """Every maximal test that counts, in the order of time."""
    return sorted([*_at_the_clinic(entries), *_at_home(sessions)], key=lambda one: one.at)


def both_sides_of(tests: Sequence[Tested], name: str) -> list[BothSides]:
    """The tests of both sides of a muscle, as the side ratio takes them."""
    return [
        BothSides(one.at, one.mean_uv, sum(one.other) / len(one.other))
        for one in tests
        if one.name == name and one.other and one.involved
    ]


def _at_the_clinic(entries: Sequence[Entry]) -> Iterator[Tested]:
    for one in results_of(entries):
        at, result = one.entry.at, one.result
        if isinstance(result, SidesTest) and result.involved.used_uv:
            yield _of(at, result.involved, result.uninvolved.used_uv, result.purpose == "before operation")
        elif isinstance(result, ReferenceTest) and result.reference == "maximum" and result.found.used_uv:
            yield _of(at, result.found)


def _of(at: datetime, found: MuscleTrials, other: tuple[float, ...] = (), before: bool = False) -> Tested:
    return Tested(at, "clinic", found.name, found.side, found.used_uv, other, before)


def _at_home(sessions: Sequence[LedgerSession]) -> Iterator[Tested]:
    """A test that ended before the other side was measured is shown as far as it came."""
    for session in sessions:
        sides: dict[str, RetestRecord] = {one.role: one for one in session.tests}
        involved, other = sides.get("involved"), sides.get("uninvolved")
        if involved is not None:
            yield Tested(
                session.started,
                "home",
                involved.name,
                involved.side,
                involved.trials_uv,
                other.trials_uv if other else (),
            )
