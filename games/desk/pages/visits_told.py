"""What the clinic wrote down about a patient, in the reader's language; and what a discharge says in figures. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import get_args

from musclewood.games.desk.bench.found import told
from musclewood.games.examining.outcomes import compared
from musclewood.games.kit.words import Words
from musclewood.profiles.caseload.attention import PatientSummary
from musclewood.profiles.visits.entries import (
    Away,
    Discharge,
    Entry,
    Examination,
    Return,
    SidesTest,
    Signed,
    TrialSetAside,
)
from musclewood.profiles.visits.standing import baseline, latest

WHY: tuple[str, ...] = get_args(Discharge.model_fields["why"].annotation)


def in_words(words: Words, entry: Entry) -> str:
    """One entry in a line: when, by whom, what."""
    content = entry.content
    match content:
        case Examination():
            kind = words(f"desk.bench.test-{content.result.test}")
            said = f"{kind}: {told(words, content.result)[0]}"
            if content.pain:
                said += " " + words("desk.visits.pain", value=max(content.pain))
        case TrialSetAside():
            said = words("desk.visits.set-aside", trial=content.trial, entry=content.entry)
        case Away():
            said = words("desk.visits.away", first=content.first, last=content.last)
        case Discharge():
            said = words("desk.visits.discharged", why=words(f"desk.visits.why-{WHY.index(content.why)}"))
        case Return():
            said = words("desk.visits.returned")
        case Signed():
            said = words("desk.visits.signed", revision=content.revision)
    by = f", {entry.by}" if entry.by else ""
    return f"{entry.at:%Y-%m-%d %H:%M}{by}: {said}"


def against_before(words: Words, entries: Sequence[Entry]) -> list[str]:
    """The latest test of both sides beside the one from before an operation; nothing where either is missing."""
    now = latest(entries, SidesTest)
    if now is None or not isinstance(now.result, SidesTest):
        return []
    before = baseline(entries, now.result.involved.name)
    if before is None or before.entry == now.entry or not isinstance(before.result, SidesTest):
        return []
    lines = []
    for key, then in (("before-involved", before.result.involved), ("before-other", before.result.uninvolved)):
        found = compared(now.result.involved, then)
        if found is not None:
            span = {"low": f"{found.low:.0f}", "high": f"{found.high:.0f}"}
            day = before.entry.at.date().isoformat()
            lines.append(words(f"desk.visits.{key}", value=f"{found.lsi:.0f}", day=day, **span))
    return lines


def discharge_of(row: PatientSummary, on: date, why: str) -> Discharge:
    """What was reached, in figures."""
    lines = [f"{row.sessions} sessions handed over"]
    if row.adherence_pct is not None:
        lines.append(f"{row.adherence_pct:.0f} % of the order in the last four weeks")
    lines += [f"{one.muscle}: {one.estimate_uv:.0f} µV ({one.low_uv:.0f} to {one.high_uv:.0f})" for one in row.maxima]
    return Discharge.model_validate(
        {"on": on, "why": why, "sessions": row.sessions, "adherence_pct": row.adherence_pct, "summary": tuple(lines)}
    )
