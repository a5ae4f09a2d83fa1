"""What the desk's own commands do, one function a command. Each prints lines and gives an exit code."""

from __future__ import annotations

import argparse
from datetime import date, datetime

from musclewood.assets.saying import say
from musclewood.games.commands.asking import passphrase, passphrase_from, sender_confirmed, unusual_meant
from musclewood.games.commands.changing import change_by_command
from musclewood.games.commands.printing import show
from musclewood.games.commands.visits import initials
from musclewood.games.desk.form.model import FormModel
from musclewood.games.home.own_sensors import enclosed
from musclewood.games.home.places import exchange_besides
from musclewood.games.running.errors import DONE, INPUT_WRONG, USAGE_WRONG, CommandError
from musclewood.profiles.caseload.attention import PatientSummary
from musclewood.profiles.clinic.clinic import Arrival, Clinic
from musclewood.profiles.errors import SetAsideError, UnknownHomeError
from musclewood.profiles.exchange.places import whole_address
from musclewood.profiles.orders.difference import difference
from musclewood.profiles.orders.draft import Draft
from musclewood.profiles.orders.draft_fields import Field
from musclewood.profiles.orders.facts import facts, in_words
from musclewood.profiles.orders.faults import faults_of_schema
from musclewood.profiles.orders.templates import template_names
from musclewood.profiles.orders.unmeasured import measured_besides, unmeasured
from musclewood.profiles.visits.filling import fill
from pydantic import ValidationError

ACCEPTS = "desk collect --words WORDS"  # for a computer that nobody has accepted yet
MOST_REFUSED = 30  # lines; whoever can write into the exchange folder could fill any number of screens


def _today() -> date:
    return datetime.now().astimezone().date()


def new_key(clinic: Clinic, options: argparse.Namespace) -> int:
    """Make the clinic's key and show its words."""
    clinic.make_key(passphrase(options, new=True))
    show(f"key: {clinic.key_path}")
    show("Keep a copy of this file in a second place, and the passphrase somewhere else: neither can be made again.")
    return show_key(clinic)


def relock_key(clinic: Clinic, options: argparse.Namespace) -> int:
    """Another passphrase for the same key; its words stay."""
    old = passphrase(options)
    clinic.relock(old, passphrase_from(options.new_passphrase_file, "new passphrase: ", new=True))
    show(f"locked anew: {clinic.key_path}; copies made before still open with the old passphrase")
    return DONE


def change_key(clinic: Clinic, options: argparse.Namespace) -> int:
    """A new key in good order; the old one goes on opening what was sealed to it."""
    clinic.change_key(passphrase(options))
    show("changed: every order from now on says that the old key vouches for the new one; issue one to each patient")
    show("Make a new backup, for those made before hold the old key alone; a second desk takes the keys from it:")
    show("  'musclewood desk key take BACKUP'")
    return show_key(clinic)


def take_keys(clinic: Clinic, options: argparse.Namespace) -> int:
    """The keys of the clinic's other desk; what was sealed to an earlier one opens here too."""
    clinic.take_keys(options.file, passphrase(options))
    show("taken: the keys of the desk that made the backup; the passphrase of its key opens them here too")
    return show_key(clinic)


def show_key(clinic: Clinic) -> int:
    """The clinic's words."""
    if not clinic.has_key:
        raise CommandError(say("command.no-desk-key", root=clinic.root))
    show(f"words: {' '.join(clinic.words())}")
    return DONE


def settings(clinic: Clinic, options: argparse.Namespace) -> int:
    """Show the settings, changed where something was named."""
    now = clinic.settings
    named = {key: getattr(options, key) for key in now.model_dump(exclude={"format"})}
    changes = {key: value for key, value in named.items() if value is not None}
    if "exchange" in changes:
        changes["exchange"] = whole_address(changes["exchange"])
    if changes:
        try:
            now = type(now).model_validate(now.model_dump() | changes)
        except ValidationError as error:
            fault = faults_of_schema(error, type(now))[0]
            option = f"--{fault.key_path.replace('_', '-')}"
            raise CommandError(say("wrong.in-file", name=option, problem=fault.remedy)) from None
        clinic.save_settings(now)
    for key, value in now.model_dump(exclude={"format"}).items():
        show(f"{key}: {value if value not in ('', None) else '-'}")
    return DONE


def patients(clinic: Clinic, discharged: bool = False) -> int:
    """One line a patient, and one for each reason to look."""
    rows = clinic.patients(_today(), discharged=discharged)
    for row in rows:
        show(patient_line(row))
        for reason in row.attention:
            show(f"  {reason.sentence()}")
    if not rows:
        show("No patients yet: start with 'musclewood desk prescribe'.")
    return DONE


def patient_line(row: PatientSummary) -> str:
    """A patient at a glance, in one line."""
    parts = [f"{row.patient}: order {row.revision}" if row.revision else f"{row.patient}: no order from this desk"]
    parts.append(f"last hand-over {row.last_handover}" if row.last_handover else "no hand-over yet")
    if row.adherence_pct is not None:
        parts.append(f"{row.adherence_pct:.0f} % of the order in four weeks")
    for one in row.maxima[:2]:
        parts.append(f"{one.muscle} {one.estimate_uv:.0f} µV ({one.low_uv:.0f} to {one.high_uv:.0f})")
    return ", ".join(parts)


def prescribe(clinic: Clinic, options: argparse.Namespace) -> int:
    """Show an order in the making; with --issue, sign it."""
    model = FormModel(_start(clinic, options))
    if options.filled:
        model.draft, filled = fill(model.draft, clinic.visits.entries(options.patient))
        for one in filled:
            show(f"filled: {one.sentence()}")
    change_by_command(model, options)
    draft = model.draft.without_sensors() if options.no_sensors else model.draft
    model.draft = draft = draft.with_sensors(enclosed(options.sensor))
    if options.keys:
        for field in model.fields():
            show(_field_line(field, model))
        return DONE
    faults = model.faults()
    for fault in faults:
        show(f"{fault}")
    if faults:
        return INPUT_WRONG
    order = draft.prescription
    if draft.previous is not None:
        for sentence in draft.difference() or ["Nothing changes but the dates."]:
            show(sentence)
        show("The whole order:")
    for fact in facts(order) if order else ():
        show(in_words(fact))
    for muscle in unmeasured(order) if order else ():
        show(f"not measured at home, since no exercise uses it: {muscle.name}, {muscle.side} ({muscle.role})")
    for muscle in measured_besides(order) if order else ():
        show(
            f"measured besides, where the sensor has channel {muscle.channel}: {muscle.name}, {muscle.side} "
            "(no exercise uses it)"
        )
    for concern in draft.concerns():
        show(f"outside usual practice: {concern.sentence()}")
    preview = draft.preview()
    if preview is not None:
        show(
            f"{preview.reps_a_day} repetitions, {preview.minutes_a_day:.0f} min a day; review on "
            f"{draft.value('review')}"
        )
    if not options.issue:
        show("not issued: add --issue to sign it")
        return DONE
    meant = unusual_meant(draft.concerns(), options.acknowledge)
    issued = clinic.issue(draft, clinic.unlock(passphrase(options)), meant, by=initials(clinic, options))
    show(f"issued: revision {issued.prescription.revision} for {issued.prescription.patient}, {issued.path}")
    if issued.trouble:
        show(f"not in the exchange folder yet: {issued.trouble}; then run 'musclewood desk deliver'")
    return DONE


def show_difference(clinic: Clinic, options: argparse.Namespace) -> int:
    """The last two revisions, or those that were named."""
    orders = {order.revision: order for order in clinic.orders(options.patient)}
    if not orders:
        raise CommandError(say("command.nothing-issued", patient=options.patient))
    wanted = options.revisions or [max(orders)]
    if len(wanted) > 2:
        raise CommandError(say("command.one-or-two"), code=USAGE_WRONG)
    for revision in wanted:
        if revision not in orders:
            known = ", ".join(str(number) for number in orders)
            raise CommandError(say("command.no-revision", patient=options.patient, revision=revision, known=known))
    newer = orders[wanted[-1]]
    before = [number for number in orders if number < newer.revision]
    older = orders[wanted[0]] if len(wanted) == 2 else orders[max(before)] if before else None
    for sentence in difference(older, newer) or ["Nothing changed but the dates."]:
        show(sentence)
    return DONE


def deliver(clinic: Clinic) -> int:
    """Put what waits into the exchange folder."""
    names = clinic.deliver()
    for name in names:
        show(f"delivered: {name}")
    if not names:
        show("everything that was issued is there already")
    return DONE


def collect(clinic: Clinic, options: argparse.Namespace) -> int:
    """Open what came back, on a stick too; one that is refused does not keep the others out."""
    keys = clinic.unlock(passphrase(options))
    collected = None
    try:
        brought = exchange_besides(clinic.settings.exchange)
        collected = clinic.collect(keys, _today(), sender_confirmed(options.words), brought)
    finally:  # what arrived before a stick was pulled out is named all the same
        with clinic.naming() as arrivals:
            for arrival in arrivals:
                show(arrival_line(arrival))
    refused = [refusal for refusal in collected.refused if not isinstance(refusal.reason, SetAsideError)]
    for refusal in refused[:MOST_REFUSED]:
        unknown = isinstance(refusal.reason, UnknownHomeError)
        show(f"refused: {refusal.name}: {refusal.reason}{f' ({ACCEPTS})' if unknown else ''}")
    if len(refused) > MOST_REFUSED:
        show(f"refused: {len(refused) - MOST_REFUSED} more files like these")
    if not arrivals and not refused:
        show("nothing new")
    return INPUT_WRONG if refused or any(arrival.receipt.fault for arrival in arrivals) else DONE


def arrival_line(arrival: Arrival) -> str:
    """What arrived, in a line; one that was perhaps told before says so."""
    receipt = arrival.receipt
    what = f"hand-over {receipt.sequence} of {receipt.patient}"
    if arrival.again:
        what += " (when the last run was cut off)"
    if receipt.fault:
        return f"set aside: {what}: {receipt.fault}, {arrival.path}"
    late = ", older than one that is already here" if arrival.late else ""
    return f"received: {what}{late}, {arrival.path}"


def report(clinic: Clinic, options: argparse.Namespace) -> int:
    """Write a patient's report."""
    show(f"report: {clinic.write_report(options.patient, datetime.now().astimezone())}")
    return DONE


def _start(clinic: Clinic, options: argparse.Namespace) -> Draft:
    if options.start == "last":
        return clinic.draft_from_last(options.patient, _today())
    if options.start not in template_names():
        raise CommandError(
            say("command.no-such-template", start=options.start, known=", ".join(template_names())), code=USAGE_WRONG
        )
    return clinic.draft_from_template(options.start, options.patient, _today())


def _field_line(field: Field, model: FormModel) -> str:
    value = model.value(field.key_path)
    shown = " ".join(str(part) for part in value) if isinstance(value, tuple) else value
    if field.choices:
        bounds = f"one of {_listed(field.choices)}" if field.kind == "choice" else "any of " + " ".join(field.choices)
    elif field.low is not None and field.high is not None:
        bounds = f"{field.low:g} to {field.high:g} {field.unit}".rstrip()
    else:
        bounds = {"flag": "on or off", "date": "a date such as 2026-12-24"}.get(field.kind, "")
    return f"{field.key_path} = {'-' if shown is None else shown}  ({bounds}{', or empty' if field.optional else ''})"


def _listed(choices: tuple[str, ...]) -> str:
    return ("; " if any(" " in one for one in choices) else " ").join(choices)
