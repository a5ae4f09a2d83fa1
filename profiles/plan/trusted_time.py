"""Which moment may be trusted: how long ago something really was, whatever the clock on the wall was set to since.

Pure. A clock can be set forward to get tomorrow's dose today, or back to get today's again. So only what passed between
two readings counts, one after the other:

- While the machine runs, its running time counts and the wall clock does not. Sleep is part of the running time.
- Across a restart nothing but the wall clock knows how long the machine was off. It is believed when it went forward;
it
  never counts for less than the machine has run since.
- A wall clock that went back across a restart (a flat battery) may be put right later, while the machine runs; then it
  is believed for the time since it was last right. Until then the time that was off is unknown, and counts as none.

What was done is then dated back from now by the time that really passed. Nobody can measure how long a machine was off:
whoever sets the clock before each start is believed, like somebody who rewrites the disk.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta, tzinfo
from itertools import pairwise

from musclewood.profiles.journal.history import History, PastSession
from musclewood.profiles.journal.journal import Reading

# The journal's clock and the one that a run was told agree within this; a run that was told its time (a replay faster
# than time, a demonstration) has no use for the machine's. Our choice.
SAME_CLOCK = timedelta(minutes=5)
# A session that was killed counts as long as its last sign of life, and as much longer as signs are apart. Our choice.
SIGN_OF_LIFE_S = 15.0
# A wall clock that gained or lost less than this on the machine's own was put right. Our choice: an hour, as by
# daylight saving on a computer that keeps local time, and some minutes.
PUT_RIGHT = timedelta(minutes=70)
# After a machine has run so long, a day has passed whatever the clock says.
A_DAY_S = 86400.0


@dataclass(frozen=True)
class Lived:
    """The past as it was lived, dated back from `now`.

    `set_aside` are the moments at which a damaged journal was set aside, each with the order in force then. `behind`:
    the clock shows less than before the machine was restarted, so that nobody knows what day it is. `unmoved` is what
    the wall clock would show, had nobody set it since the machine was started; None if nobody did.
    """

    history: History
    now: datetime | None
    set_aside: tuple[tuple[datetime, int | None], ...] = ()
    behind: bool = False
    unmoved: datetime | None = None

    def on(self, today: date, zone: tzinfo | None) -> list[PastSession]:
        """What was done today."""
        return self._since(lambda day: day, today, zone)

    def this_week(self, today: date, zone: tzinfo | None) -> list[PastSession]:
        """What was done since Monday."""
        return self._since(lambda day: day - timedelta(days=day.weekday()), today, zone)

    def _since(self, first: Callable[[date], date], today: date, zone: tzinfo | None) -> list[PastSession]:
        """By the clock as it is, and if it was set, also as it would be: else midnight could be
        set between sessions."""
        found = self.history.between(first(today), today, zone)
        if self.unmoved is None or self.now is None:
            return found
        shift, since = self.unmoved - self.now, first(self.unmoved.astimezone(zone).date())
        also = {
            one.session_id for one in self.history.sessions if (one.started + shift).astimezone(zone).date() >= since
        }
        also |= {one.session_id for one in found}
        return [one for one in self.history.sessions if one.session_id in also]


@dataclass(frozen=True)
class _Ages:
    """How many seconds before the last reading each other was made; `behind` as in `Lived`; the reading since which
    nobody should have set the clock, if the machine says so."""

    seconds: tuple[float, ...]
    behind: bool
    anchor: Reading | None


def as_lived(history: History, now: datetime | None) -> Lived:
    """Every session dated by the time that really passed since. Without `now` nothing is dated anew."""
    if now is None:
        return Lived(history, None)
    if history.clocks is not None and abs(history.clocks.wall - now) > SAME_CLOCK:
        history = replace(
            history, readings=(), clocks=None
        )  # a run that was told its time: only claims can be compared
    trail, last = _trail(history), replace(history.clocks or Reading(0, "now", now), wall=now)
    ages = _ages([*trail, last])
    age_of = {(one.session_id, one.moment): age for one, age in zip(trail, ages.seconds, strict=True)}
    sessions = tuple(_dated_back(session, now, age_of) for session in history.sessions)
    aside = tuple(
        (now - timedelta(seconds=age), one.revision)
        for one, age in zip(trail, ages.seconds, strict=True)
        if one.moment == "aside"
    )
    return Lived(replace(history, sessions=sessions), now, aside, ages.behind, _unmoved(ages.anchor, last))


def _trail(history: History) -> list[Reading]:
    """Every reading in the order it was made; sessions of earlier versions and told times have only what they claim."""
    by_session: dict[int, list[Reading]] = {}
    for reading in history.readings:
        by_session.setdefault(reading.session_id, []).append(reading)
    claimed = {session.session_id: session for session in history.sessions}
    trail: list[Reading] = []
    for session_id in sorted({*by_session, *claimed}):
        readings, session = by_session.get(session_id, []), claimed.get(session_id)
        own = [one for one in readings if one.moment in ("begin", "beat", "end")]
        if session is not None and not (own and abs(own[0].wall - session.started) <= SAME_CLOCK):
            own = [Reading(session_id, "begin", session.started), Reading(session_id, "end", session.ended)]
        trail += [*own, *(one for one in readings if one.moment not in ("begin", "beat", "end"))]
    return trail


def _ages(readings: Sequence[Reading]) -> _Ages:
    lived, at = 0.0, [0.0]
    lost: tuple[datetime, float] | None = None  # the last reading before the wall clock went back, and when it was
    behind, anchor = False, readings[0]
    for before, after in pairwise(readings):
        if before.boot and before.boot == after.boot:
            lived += max(0.0, (after.run_s or 0.0) - (before.run_s or 0.0))
        else:
            off_s = (after.wall - before.wall).total_seconds()
            behind, anchor = off_s < 0, after
            if behind and lost is None:
                lost = before.wall, lived
            lived += max(off_s, after.run_s or 0.0, 0.0)
        if lost is not None and after.wall >= lost[0]:
            lived = max(lived, lost[1] + (after.wall - lost[0]).total_seconds())
            lost, behind, anchor = None, False, after
        at.append(lived)
    behind = behind and lost is not None and lived - lost[1] < A_DAY_S
    return _Ages(tuple(lived - one for one in at[:-1]), behind, None if behind else anchor)


def _dated_back(session: PastSession, now: datetime, age_of: dict[tuple[int, str], float]) -> PastSession:
    """The session on the clock of now. It lasted as long as the machine ran or as it claims, whichever is more."""
    began = age_of[session.session_id, "begin"]
    sign_s = began - age_of[session.session_id, "beat"] if (session.session_id, "beat") in age_of else 0.0
    ended_s = began - age_of[session.session_id, "end"] if (session.session_id, "end") in age_of else 0.0
    killed = session.end is None or session.end.ending == "interrupted"
    lasted_s = max(ended_s, sign_s + SIGN_OF_LIFE_S if killed else 0.0, 60 * session.minutes)
    start = now - timedelta(seconds=began)
    moved = replace(session, start=replace(session.start, started_at=start.isoformat()))
    if session.end is None:
        return moved
    return replace(moved, end=replace(session.end, ended_at=(start + timedelta(seconds=lasted_s)).isoformat()))


def _unmoved(anchor: Reading | None, last: Reading) -> datetime | None:
    """What the wall clock would show, going by the anchor and the time that the machine has run since."""
    if anchor is None or not last.boot or anchor.boot != last.boot:
        return None
    unmoved = anchor.wall + timedelta(seconds=(last.run_s or 0.0) - (anchor.run_s or 0.0))
    return unmoved if abs(last.wall - unmoved) > PUT_RIGHT else None
