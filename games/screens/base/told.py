"""An attempt in words and as what the plot of an effort draws: the same beside the work and on the page afterwards."""

from __future__ import annotations

from musclewood.games.engine.results import ALIKE, Result
from musclewood.games.engine.teacher import Help
from musclewood.games.kit.effort_plot import Effort
from musclewood.games.kit.words import Words

RISE_S = 0.6  # from the beginning of a willing effort to its band; our choice


def told_in(words: Words, workshop: str, result: Result, help_: Help) -> list[str]:
    """The sentences: what happened, by how much, and what to do next time; or the help there is."""
    told = what_happened(words, workshop, result)
    if help_:
        told.append(words(f"result.help.{help_}"))
    elif not result.made:
        told.append(words(f"result.next.{result.code}"))
    return told


def what_happened(words: Words, workshop: str, result: Result) -> list[str]:
    """What happened, and by how much."""
    told = [words("result.unseen")] if result.unseen else []
    told.append(words(what_key(workshop, result)))
    if result.figure:
        values = {name: figure_in(words, value) for name, value in result.values.items()}
        told.append(words(f"result.figure.{result.figure}", **values))
    return told


def what_key(workshop: str, result: Result) -> str:
    """The key of what happened; a miss is told in the workshop's own words."""
    if result.made:
        return f"result.good.{result.good}"
    return f"result.alike.{result.code}" if result.code in ALIKE else f"result.{workshop}.{result.code}"


def figure_in(words: Words, value: float) -> str:
    text = f"{value:g}"
    return text.replace(".", ",") if words.language == "de" else text


def effort_of(result: Result) -> Effort:
    """The attempt against what was asked of it."""
    lower, upper = edges_of(result)
    begins_s = 0.0 if result.pattern else RISE_S
    return Effort(result.profile, result.rep.held_s, lower, upper, begins_s, result.hold_s)


def edges_of(result: Result) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Lower and upper edge of what was asked, over its time."""
    if not result.pattern:
        return (result.low,) * 2, (result.high,) * 2
    middle, half = (result.low + result.high) / 2, (result.high - result.low) / 2
    way = [middle * point for point in result.pattern]
    return tuple(max(0.0, level - half) for level in way), tuple(level + half for level in way)
