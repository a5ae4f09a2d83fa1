"""Everything a session needs, put together from a prescription, a journal and a source."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from musclewood.assets.saying import say
from musclewood.games.engine.habits import habits_of
from musclewood.games.engine.session import Session
from musclewood.games.engine.stages import ReferenceRule
from musclewood.games.running.acquisition import Acquisition
from musclewood.games.running.conductor import Conductor
from musclewood.games.running.errors import CommandError
from musclewood.games.running.recorder import Clock, Recorder
from musclewood.games.running.sources_by_name import Supply
from musclewood.games.running.todays_plan import channels_used, plan_for
from musclewood.games.workshops.ordered import in_workshops
from musclewood.profiles.journal.history import History, read_history, zone_of
from musclewood.profiles.journal.journal import Journal
from musclewood.profiles.journal.records import PRACTICE_SOURCES, CalibrationRecord
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.reference import name_of
from musclewood.profiles.orders.tables import CalibrationOrder, Muscle
from musclewood.profiles.plan.dose import DayPlan
from musclewood.profiles.plan.recent_mvc import Measured, follow, reference_for_today
from musclewood.signal.recordings.recording_file import RecordingFile
from musclewood.signal.sources import Source
from musclewood.signal.sources.ble import BleSource


@dataclass(frozen=True)
class PreparedSession:
    """A session ready to begin, and the plan that it follows."""

    conductor: Conductor
    plan: DayPlan


def set_up(
    prescription: Prescription,
    journal: Journal,
    supply: Supply,
    *,
    clock: Clock,
    plan: DayPlan | None = None,
    by_ticks: bool = False,
    note: str = "",
    listen: Callable[[Source], Acquisition] = Acquisition,
) -> PreparedSession:
    """Put a session together.  Raises CommandError if the source has too few channels.

    `clock` gives an aware date and time.  With `by_ticks` the session's own time is added to the moment of now instead,
    for runs that are faster than time.  Raises JournalError if the journal cannot be read.
    """
    source = supply.source
    needed = channels_used(prescription)
    if len(source.labels) < needed:
        raise CommandError(say("command.too-few-channels", count=len(source.labels), value=needed - 1))
    practice = source.kind in PRACTICE_SOURCES
    now, history = clock(), read_history(journal)
    plan = in_workshops(plan or plan_for(prescription, history, now, practice))
    acquisition = listen(source)
    known = {} if practice else _known(prescription, history, now)
    session = Session(
        prescription,
        plan,
        acquisition.step_s,
        acquisition.channels,
        minutes_left=prescription.ceilings.minutes_per_day if practice or plan.minutes is None else plan.minutes,
        references={channel: (one.rest_uv, one.reference_uv) for channel, one in known.items()},
        habits={channel: habits_of(one) for channel, one in known.items()},
        reference_rule=_rule(history, now, name_of(prescription.calibration)),
    )
    if prescription.record_samples and plan.exercises and not practice and not source.envelope:
        note = "; ".join(part for part in (note, _record(acquisition, prescription, journal, now)) if part)
    told_time: Callable[[], datetime] = (lambda: now + timedelta(seconds=session.time_s)) if by_ticks else clock
    sensor = source.description.id if isinstance(source, BleSource) else ""
    recorder = Recorder(journal, prescription, source.kind, told_time, note, sensor)
    return PreparedSession(Conductor(acquisition, session, recorder), plan)


def _record(acquisition: Acquisition, prescription: Prescription, journal: Journal, now: datetime) -> str:
    """Keep the raw samples, as ordered, in the folder `recordings` of the home; returns what
    went wrong, if anything."""
    root = journal.path.parent.parent if journal.path.parent.name == "journals" else journal.path.parent
    path = root / "recordings" / f"{prescription.patient}-{now.astimezone(UTC):%Y%m%dT%H%M%SZ}.edf"
    source = acquisition.source
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        tape = RecordingFile(
            path, rate_hz=source.rate_hz, labels=source.labels, started=now, patient_code=prescription.patient
        )
    except OSError as error:
        return f"the samples could not be recorded ({error.strerror})"
    acquisition.record_onto(tape)
    return ""


def _rule(history: History, now: datetime, reference: str) -> ReferenceRule:
    """Today's calibration, steadied by what earlier sessions found for the same muscle against the same reference."""
    started = {session.session_id: session.started for session in history.sessions}

    def rule(muscle: Muscle, rest_uv: float, mvc_uv: float, cv: float) -> float:
        past = [
            Measured(started[session_id], record.mvc_uv, record.cv)
            for session_id, record in history.calibrations
            if record.muscle == muscle.id
            and record.reference == reference
            and record.trials_uv
            and session_id in started
        ]
        return reference_for_today(follow(past, latest=1), Measured(now, mvc_uv, cv or None)).estimate_uv

    return rule


def _known(prescription: Prescription, history: History, now: datetime) -> dict[int, CalibrationRecord]:
    """The latest calibration by channel, where the order lets an earlier one against the same reference stand."""
    order: CalibrationOrder = prescription.calibration
    if order.every == "session":
        return {}
    zone = zone_of(prescription.timezone)
    today = now.astimezone(zone).date()
    first = today - timedelta(days=6 if order.every == "week" else 0)
    ids = {session.session_id for session in history.between(first, today, zone)}
    latest: dict[int, CalibrationRecord] = {}
    for session_id, record in history.calibrations:
        same = record.reference == name_of(order) and record.trials_uv
        if session_id in ids and same and math.isfinite(record.reference_uv):
            latest[record.channel] = record
    return latest
