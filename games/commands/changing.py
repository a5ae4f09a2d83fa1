"""What `desk prescribe` changes in an order before it is shown: the same as the form of the window, and no more."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from typing import Any

from musclewood.assets.saying import say
from musclewood.games.desk.form.model import MOST_EXERCISES, MOST_MUSCLES, FormModel
from musclewood.games.desk.form.offered import OFFERED_KINDS, known_muscles
from musclewood.games.running.errors import USAGE_WRONG, CommandError


def add_changes(prescribe: Any) -> None:
    """Describe them to argparse."""

    def repeated(name: str, value: str, told: str) -> None:
        prescribe.add_argument(name, action="append", default=[], metavar=value, help=f"{told}; may be repeated")

    repeated("--without", "EXERCISE", "leave an exercise out, by its id")
    repeated("--without-muscle", "MUSCLE", "leave a muscle out, by its id")
    repeated("--with-muscle", "MUSCLE", "one more muscle, such as rectus-femoris")
    repeated("--with", "KIND", f"one more exercise: {', '.join(OFFERED_KINDS)}")
    repeated("--set", "KEY=VALUE", "such as exercises.0.reps=8, after all the others")


def change_by_command(model: FormModel, options: argparse.Namespace) -> None:
    """In this order: what is left out, what is added, what is set. Raises CommandError."""
    for name in options.without:
        model.remove_exercise(_one_of("--without", name, [str(one["id"]) for one in model.exercises]))
    for name in options.without_muscle:
        model.remove_muscle(_one_of("--without-muscle", name, [str(one["id"]) for one in model.muscles]))
    for name in options.with_muscle:
        number = _one_of("--with-muscle", name, [one.key for one in known_muscles()])
        _room("--with-muscle", len(model.muscles), MOST_MUSCLES)
        model.add_muscle(known_muscles()[number])
    for name in getattr(options, "with"):
        _one_of("--with", name, OFFERED_KINDS)
        _room("--with", len(model.exercises), MOST_EXERCISES)
        model.add_exercise(name)
    for change in options.set:
        key, equals, value = change.partition("=")
        if not equals:
            raise CommandError(say("command.key-value", change=change), code=USAGE_WRONG)
        try:
            _set(model, key.strip(), value.strip())
        except KeyError:
            raise CommandError(say("command.no-key", key=key), code=USAGE_WRONG) from None


def _set(model: FormModel, key: str, value: str) -> None:
    if key.endswith(".workshops"):  # all of them at once, where the form ticks one by one
        model.draft = model.draft.set(key, value)
        return
    field = model.field(key)
    free = {one.key_path for one in model.draft.fields()}
    if field.kind == "choice" and key not in free and value not in field.choices:
        raise CommandError(
            say("command.no-choice", key=key, value=value, known="; ".join(field.choices)), code=USAGE_WRONG
        )
    model.set(key, value)


def _one_of(option: str, name: str, names: Iterable[str]) -> int:
    listed = list(names)
    if name not in listed:
        raise CommandError(say("command.no-such", option=option, name=name, known=", ".join(listed)), code=USAGE_WRONG)
    return listed.index(name)


def _room(option: str, count: int, most: int) -> None:
    if count >= most:
        raise CommandError(say("command.too-many", option=option, most=most), code=USAGE_WRONG)
