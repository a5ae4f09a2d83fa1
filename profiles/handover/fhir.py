"""The essence of a hand-over as HL7 FHIR R4B resources: what was ordered, each session, answers, maxima and sets.

    prescription        ServiceRequest (identifier: code-revision)
    session             Procedure (basedOn the order, performedPeriod; whole sessions completed, others stopped)
    sensor, software    Device
    ratings, sets, calibrations   Observation (partOf the Procedure)
    the tables          DocumentReference: single repetitions stay in the hand-over

The patient is the clinic's code, an identifier and never a Patient resource. Practice is left out. The same hand-over
gives the same bundle: ids are made from what they stand for. Checked by the package fhir.resources and by the rules of
FHIR that it does not hold (required codes, quantities with their code, unfinished sessions).
"""

from __future__ import annotations

import importlib
import json
import math
from collections.abc import Iterator, Mapping
from typing import Any
from uuid import UUID, uuid5

from musclewood.assets.saying import say
from musclewood.profiles.errors import HandoverError
from musclewood.profiles.handover.columns import MEANINGS
from musclewood.profiles.handover.reading import Handover
from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.journal.records import CalibrationRecord, RatingRecord, SetRecord
from musclewood.profiles.orders.prescription import Prescription

SYSTEM = "urn:uuid:6d1f4b0c-5a0e-5b4e-9c2b-3f6c1b8a7e10"  # ours: codes and identifiers that no standard has
UCUM, LOINC, SNOMED = "http://unitsofmeasure.org", "http://loinc.org", "http://snomed.info/sct"
_SPACE = UUID(SYSTEM.removeprefix("urn:uuid:"))

# LOINC 72514-3: pain severity 0-10, reported. LOINC 82289-0: rating of perceived exertion. SNOMED CT 229065009:
# exercise therapy. No standard code was found for tiredness, ease, a muscle's maximum, co-contraction or counted
# repetitions.
_RATINGS = {
    "pain": (LOINC, "72514-3", "Pain severity - 0-10 verbal numeric rating [Score] - Reported"),
    "effort": (LOINC, "82289-0", "Rating of perceived exertion [Score]"),
    "tiredness": (SYSTEM, "tiredness", "Tiredness, 0 to 10"),
    "ease": (SYSTEM, "ease", "Ease, 0 to 10"),
}
_SET_FIGURES = {
    "reps_counted": "1",
    "attempts": "1",
    "median_frequency_decline_pct": "%",
    "cocontraction_pct": "%",
}
_CALIBRATION_FIGURES = {"mvc_uv": "uV", "rest_uv": "uV", "reference_uv": "uV"}

Resource = dict[str, Any]


def bundle_of(handover: Handover) -> bytes:
    """The bundle as JSON. Raises HandoverError where the package is missing or any check finds a fault."""
    bundle: Resource = {"resourceType": "Bundle", "type": "collection", "timestamp": handover.created}
    bundle["entry"] = [_entry(one) for one in _resources(handover)]
    refuse_faulty(bundle)
    return json.dumps(bundle, ensure_ascii=False, indent=1).encode()


def refuse_faulty(bundle: Mapping[str, Any]) -> None:
    """Raises HandoverError, naming the first fault."""
    try:
        bundles: Any = importlib.import_module("fhir.resources.R4B.bundle")
    except ImportError:
        raise HandoverError(say("wrong.fhir-needs-package-fhir"), say("mend.install-musclewood-fhir")) from None
    try:
        bundles.Bundle.model_validate(dict(bundle))
    except ValueError as error:
        raise HandoverError(say("wrong.no-fhir", known=" ".join(str(error).split())[:160])) from None
    for fault in _faults(bundle):
        raise HandoverError(say("wrong.no-sound-fhir", fault=fault))


# Required value sets of R4B (hl7.org/fhir/R4B): what the package does not look at.
_STATUS = {
    "ServiceRequest": {"draft", "active", "on-hold", "revoked", "completed", "entered-in-error", "unknown"},
    "Procedure": {
        "preparation", "in-progress", "not-done", "on-hold", "stopped", "completed", "entered-in-error", "unknown",
    },
    "Observation": {
        "registered", "preliminary", "final", "amended", "corrected", "cancelled", "entered-in-error", "unknown",
    },
    "Device": {"active", "inactive", "entered-in-error", "unknown"},
    "DocumentReference": {"current", "superseded", "entered-in-error"},
}  # fmt: skip
_POINTS_TO = {"basedOn": {"ServiceRequest"}, "partOf": {"Procedure"}, "device": {"Device"}}
_UNITS = {"uV", "%", "1", "{score}"}


def _faults(bundle: Mapping[str, Any]) -> Iterator[str]:
    entries = bundle.get("entry", [])
    urls = [entry.get("fullUrl") for entry in entries]
    if len(set(urls)) != len(urls):
        yield "bdl-7: a fullUrl is there twice"
    kind_of = {entry.get("fullUrl"): entry["resource"]["resourceType"] for entry in entries}
    for entry in entries:
        one = entry["resource"]
        name = f"{one['resourceType']} {one.get('id')}"
        if one.get("status") not in _STATUS[one["resourceType"]]:
            yield f"{name}: status {one.get('status')!r} is not in the required set"
        for key, kinds in _POINTS_TO.items():
            held = one.get(key, [])
            for reference in held if isinstance(held, list) else [held]:
                if kind_of.get(reference["reference"]) not in kinds:
                    yield f"{name}: {key} points to no {' or '.join(kinds)}"
        quantity = one.get("valueQuantity")
        if quantity is not None:
            if "code" in quantity and "system" not in quantity:
                yield f"{name}: qty-3, a unit's code without its system"
            if quantity.get("code") not in _UNITS:
                yield f"{name}: {quantity.get('code')!r} is no unit of UCUM that is used here"
            if "dataAbsentReason" in one:
                yield f"{name}: obs-6, a value and a reason for having none"


def _entry(resource: Resource) -> Resource:
    return {"fullUrl": f"urn:uuid:{resource['id']}", "resource": resource}


def _id(*parts: object) -> str:
    return str(uuid5(_SPACE, "/".join(map(str, parts))))


def _to(identity: str) -> Resource:
    return {"reference": f"urn:uuid:{identity}"}


def _coded(system: str, code: str, text: str) -> Resource:
    return {"coding": [{"system": system, "code": code, "display": text}], "text": text}


def _resources(handover: Handover) -> Iterator[Resource]:
    patient = handover.prescription.patient
    subject = {"identifier": {"system": SYSTEM, "value": patient}}
    for order in handover.orders:
        yield _order(order, subject, newest=order is handover.orders[-1])
    known = {order.revision for order in handover.orders}
    devices: set[str] = set()
    for session in handover.ledger.sessions:
        if session.practice:
            continue
        device = _device(session)
        if device["id"] not in devices:
            devices.add(device["id"])
            yield device
        yield from _session(session, subject, device["id"], known)
    yield {
        "resourceType": "DocumentReference", "id": _id(patient, "tables", handover.created), "status": "current",
        "subject": subject, "date": handover.created, "description": "Every repetition, as an open Data Package",
        "content": [{"attachment": {"contentType": "application/zip", "title": f"musclewood-{patient}.zip"}}],
    }  # fmt: skip


def _order(order: Prescription, subject: Resource, *, newest: bool) -> Resource:
    return {
        "resourceType": "ServiceRequest", "id": _id(order.patient, "order", order.revision),
        "identifier": [{"system": SYSTEM, "value": f"{order.patient}-{order.revision}"}],
        "status": "active" if newest else "revoked", "intent": "order", "subject": subject,
        "code": _coded(SNOMED, "229065009", "Exercise therapy"), "authoredOn": order.issued.isoformat(),
        "note": [{"text": f"{one.title}: {one.sets} x {one.reps}, hold {one.hold_s:g} s"} for one in order.exercises],
    }  # fmt: skip


def _device(session: LedgerSession) -> Resource:
    start = session.start
    names = [{"name": start.sensor or start.source, "type": "user-friendly-name"}]
    device: Resource = {
        "resourceType": "Device", "id": _id("device", start.source, start.sensor, start.software), "status": "active",
        "deviceName": names,
    }  # fmt: skip
    return device | ({"version": [{"value": start.software}]} if start.software else {})


def _status(session: LedgerSession) -> str:
    if session.end is None:
        return "in-progress"
    return "completed" if session.end.ending == "complete" or session.pain_came_after else "stopped"


def _session(session: LedgerSession, subject: Resource, device: str, known: set[int]) -> Iterator[Resource]:
    start, end = session.start, session.end
    own = _id(start.patient, start.started_at, "session")
    period = {"start": start.started_at} | ({"end": end.ended_at} if end else {})
    notes = [f"Ended: {end.ending if end else 'not yet'}"]
    notes += [
        f"Interruption at {one.at_s:.0f} s, {one.duration_s:.0f} s: {one.reason}" for one in session.interruptions
    ]
    notes += [f"{one.exercise_id}: {one.reason_therapist}" for one in session.scaling]
    yield {
        "resourceType": "Procedure", "id": own, "subject": subject,
        "status": _status(session),
        "code": _coded(SNOMED, "229065009", "Exercise therapy"), "performedPeriod": period,
        "note": [{"text": note} for note in notes],
    } | (
        {"basedOn": [_to(_id(start.patient, "order", start.revision))]} if start.revision in known else {}
    )  # fmt: skip
    shared = {"subject": subject, "effectiveDateTime": start.started_at, "partOf": [_to(own)], "device": _to(device)}
    for place, record in enumerate(session.records):
        for column, code, value, unit, told in _figures(record):
            yield {
                "resourceType": "Observation", "id": _id(start.patient, start.started_at, place, column),
                "status": "final", "code": code, "valueQuantity": _quantity(value, unit), **shared,
            } | ({"note": [{"text": told}]} if told else {})  # fmt: skip


def _quantity(value: float, unit: str) -> Resource:
    return {"value": round(float(value), 4), "unit": unit, "system": UCUM, "code": unit}


def _figures(record: object) -> Iterator[tuple[str, Resource, float, str, str]]:
    """Column, code, value, unit and a note of everything in a record that is told on."""
    match record:
        case RatingRecord():
            yield record.what, _coded(*_RATINGS[record.what]), record.value, "{score}", record.moment
        case SetRecord():
            told = f"{record.exercise_id}, set {record.set_number}"
            yield from _columns(record, _SET_FIGURES, told)
        case CalibrationRecord():
            yield from _columns(record, _CALIBRATION_FIGURES, record.muscle)


def _columns(record: object, units: Mapping[str, str], told: str) -> Iterator[tuple[str, Resource, float, str, str]]:
    for column, unit in units.items():
        value = getattr(record, column)
        if value is not None and math.isfinite(value):
            yield column, _coded(SYSTEM, column, MEANINGS[column]), value, unit, told
