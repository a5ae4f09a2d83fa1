"""`musclewood desk bench | test`: a sensor at the clinic, seen line by line, and tests led on it."""

from __future__ import annotations

import argparse
import time
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import Any

from musclewood.assets.saying import say
from musclewood.games.commands.options import add_recording_options
from musclewood.games.commands.printing import show
from musclewood.games.commands.visits import Of, add_initials, initials, result_in_words
from musclewood.games.examining.examination import Examination
from musclewood.games.kit.words import Words
from musclewood.games.running.bench import Answers, Bench
from musclewood.games.running.errors import DONE, INPUT_WRONG, CommandError
from musclewood.games.running.sources_by_name import SOURCE_FORMS, source_by_name
from musclewood.games.running.subjects import KINDS, Choice, examination_of
from musclewood.profiles.clinic.clinic import Clinic
from musclewood.profiles.orders.prescription import Prescription
from musclewood.profiles.orders.templates import template_names
from musclewood.profiles.visits.entries import Examination as Examined
from musclewood.profiles.visits.entries import Purpose
from musclewood.profiles.visits.standing import references_of

WORDS = Words("en")
FRAME_S = 0.04
FAST_FRAME_S = 0.16  # fewer, larger steps where nobody looks
LONGEST_S = 3600.0


def add_ways(own: Any, desk_of: Of) -> None:
    """Describe these commands to argparse."""
    bench = own.add_parser("bench", help="see a sensor's signal second by second, and record it")
    bench.add_argument("--seconds", type=float, default=30.0, metavar="S", help="how long (default 30)")
    bench.set_defaults(run=lambda options: watch(desk_of(options), options))
    test = own.add_parser(
        "test",
        help="lead a test of a patient's muscles and keep its result",
        description="Reference, both sides, the opposite muscle, or an effort ladder. Results fill an order: "
        "'musclewood desk prescribe --filled'.",
    )
    test.add_argument("patient", metavar="CODE")
    test.add_argument("kind", choices=KINDS)
    test.add_argument(
        "--from", dest="start", default="last", metavar="TEMPLATE", help=f"last order, or {', '.join(template_names())}"
    )
    test.add_argument("--side", choices=("left", "right"), help="the involved side, where a template has none")
    test.add_argument("--muscle", default="", metavar="ID", help="of the order (default: the first involved one)")
    test.add_argument("--first", choices=("involved", "uninvolved"), default="uninvolved", help="which side begins")
    test.add_argument("--at-once", action="store_true", help="both sides in the same contraction")
    test.add_argument("--rest", type=float, default=60.0, metavar="S", help="between trials and sides (default 60)")
    test.add_argument("--before-operation", action="store_true", help="keep it as the baseline")
    test.add_argument(
        "--then", metavar="SOURCE", help="the source from when a sensor was moved, such as a second recording"
    )
    test.add_argument("--unattended", action="store_true", help="answer by rule: pads lie, pain as in --pain")
    test.add_argument("--pain", type=int, default=0, choices=range(11), metavar="N", help="with --unattended")
    test.set_defaults(run=lambda options: lead(desk_of(options), options))
    add_initials(test)
    for one in (bench, test):
        one.add_argument("--source", required=True, metavar="SOURCE", help=", ".join(SOURCE_FORMS))
        one.add_argument("--channels", type=int, default=2, choices=(1, 2), help="of a simulated source (default 2)")
        one.add_argument("--record", type=Path, metavar="FILE", help="keep the samples as EDF+")
        one.add_argument("--fast", action="store_true", help="do not wait for time: recordings and simulated sources")
        one.add_argument("--seed", type=int, default=0, help="of a simulated source")
        add_recording_options(one)


def watch(clinic: Clinic, options: argparse.Namespace) -> int:
    """One line a second: amplitude of every channel, its verdict, and what to do about faults."""
    bench = _bench(options, options.source)
    bench.source.start()
    try:
        _record(bench, options, "X")
        seen = None
        for frame_s in _frames(options, options.seconds):
            bench.advance(frame_s)
            if bench.quality is not seen and bench.quality is not None and bench.last is not None:
                seen = bench.quality
                levels = ", ".join(
                    f"{label} {value:.0f} µV {verdict}"
                    for label, value, verdict in zip(
                        bench.source.labels, bench.last.amplitude_uv, seen.verdict, strict=True
                    )
                )
                advice = [
                    WORDS(f"advice.{name}") for channel in range(bench.channels) for name in bench.advice(channel)[:1]
                ]
                show(f"{levels}{'; ' if advice else ''}{' '.join(dict.fromkeys(advice))}")
            if bench.source.ended:
                break
    finally:
        bench.close()
    if options.record:
        show(f"recorded: {options.record}; play it again with --source replay:{options.record}")
    return DONE


def lead(clinic: Clinic, options: argparse.Namespace) -> int:
    """Lead one test, keep what was found, and say it in a line."""
    order = _order(clinic, options)
    bench = _bench(options, options.source)
    purpose: Purpose = "before operation" if options.before_operation else "visit"
    choice = Choice(
        options.kind, bench.channels, options.muscle, options.first, options.at_once, purpose, options.rest
    )  # fmt: skip
    exam = examination_of(order, choice, bench.step_s, bench.refer)
    bench.source.start()
    if options.kind in ("ladder", "opposite"):
        _known_references(clinic, options.patient, order, bench)
    try:
        _record(bench, options, options.patient)
        bench = _led(bench, exam, options)
    finally:
        bench.close()
    result = exam.result
    if result is None:
        show(f"no result: {exam.ended}{': ' + WORDS(f'measuring.{exam.note}') if exam.note else ''}")
        return INPUT_WRONG
    content = Examined(
        result=result,
        pain=tuple(exam.pain),
        source=bench.source.kind,
        recording=options.record.name if options.record else None,
    )
    entry = clinic.visits.add(options.patient, content, datetime.now().astimezone(), initials(clinic, options))
    show(f"{result_in_words(result)}")
    show(f"kept: entry {entry.number} of {entry.patient}; fill an order from it with 'desk prescribe --filled'")
    return DONE


def _led(bench: Bench, exam: Examination, options: argparse.Namespace) -> Bench:
    """To the end of the test; gives the bench that ran last, since a moved sensor may be another source."""
    answers, told, places = Answers(options.pain), "", 0
    bench.begin(exam)
    for frame_s in _frames(options, LONGEST_S):
        shown = exam.shown
        line = f"{shown.doing}: {', '.join(f'{one.name}, {one.side}' for one in shown.subjects)}"
        if line != told and shown.doing in ("place", "pain", "ready", "rest", "let go"):
            told = line
            show(line.rstrip(": "))
        if shown.doing == "place":
            places += 1
            if places > 1 and options.then:
                bench.close()
                bench = _bench(options, options.then)
                bench.source.start()
                bench.begin(exam)
        if options.unattended:
            answers.answer(exam)
        elif shown.doing in ("place", "pain"):
            _ask(exam)
        if exam.ended is not None:
            break
        bench.advance(frame_s)
    else:
        exam.answer("stop")
    return bench


def _ask(exam: Examination) -> None:
    """Somebody at the terminal answers."""
    if exam.shown.doing == "place":
        exam.answer("stop" if input("pads on? Enter, or 'stop': ").strip() == "stop" else "go on")
        return
    text = input("pain, 0 to 10 (or 'stop'): ").strip()
    with suppress(ValueError):
        exam.answer("stop" if text == "stop" else int(text))


def _bench(options: argparse.Namespace, name: str) -> Bench:
    supply = source_by_name(name, channels=options.channels, seed=options.seed, rate_hz=options.rate, unit=options.unit)
    if supply.source.kind == "keyboard":
        raise CommandError(say("command.no-keyboard-test"))
    return Bench(supply)


def _record(bench: Bench, options: argparse.Namespace, patient: str) -> None:
    if options.record is not None:
        bench.record(options.record, datetime.now().astimezone(), patient)


def _order(clinic: Clinic, options: argparse.Namespace) -> Prescription:
    """The last order, or a template with its side."""
    today = datetime.now().astimezone().date()
    if options.start == "last":
        draft = clinic.draft_from_last(options.patient, today)
    else:
        try:
            draft = clinic.draft_from_template(options.start, options.patient, today)
        except KeyError:
            raise CommandError(say("command.no-template", start=options.start)) from None
    if options.side:
        for number, muscle in enumerate(draft.document["muscles"]):
            if muscle["role"] == "involved":
                draft = draft.set(f"muscles.{number}.side", options.side)
    if draft.prescription is None:
        raise CommandError(*(fault.line for fault in draft.faults))
    return draft.prescription


def _known_references(clinic: Clinic, code: str, order: Prescription, bench: Bench) -> None:
    """Activation needs a reference of each muscle: what the last tests found. Raises CommandError for one that has
    none."""

    found = references_of(clinic.visits.entries(code))
    known = {muscle.channel: found[muscle.id] for muscle in order.muscles if muscle.id in found}
    if not known:
        raise CommandError(say("command.no-reference"))
    bench.refer(known)


def _frames(options: argparse.Namespace, longest_s: float) -> Iterator[float]:
    """How much time passes, step by step: as it does, or at once."""
    began, frame_s = time.monotonic(), FAST_FRAME_S if options.fast else FRAME_S
    for number in range(round(longest_s / frame_s)):
        yield frame_s
        if not options.fast:
            time.sleep(max(0.0, began + (number + 1) * frame_s - time.monotonic()))
