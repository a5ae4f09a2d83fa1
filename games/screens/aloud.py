"""What of a page is read aloud, and when. Pure: it looks at what is laid out, and knows no voice."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import NamedTuple

from musclewood.games.kit.widgets import Widget
from musclewood.games.sound.speech import Manner

ROW = 20.0  # whose tops lie no farther apart stand beside one another, in logical units
ENDS = ".!?:…"


class Said(NamedTuple):
    """A text to be spoken, and how soon; see `Reader`."""

    text: str
    manner: Manner


class Aloud:
    """Remembers what was read of the page in sight, so that only what is new is said."""

    def __init__(self) -> None:
        self.forget()

    def forget(self) -> None:
        """Whatever comes next is read as a whole."""
        self._what: Hashable = None
        self._told: frozenset[str] = frozenset()
        self._focus: tuple[str, str] = ("", "")

    def step(self, what: Hashable, widgets: Sequence[Widget], focus: str) -> list[Said]:
        """What to say now that these widgets are in sight, in answer to `what` is asked, with this one about to be
        chosen."""
        sentences = sorted((one for one in widgets if one.lines and not one.key), key=_place)
        told = frozenset(_name(one) for one in sentences)
        chosen = next(((one.key, text_of(one)) for one in widgets if one.key and one.key == focus), ("", ""))
        if what != self._what:
            whole = " ".join(_ended(text_of(one)) for one in sentences)
            said = [Said(whole, "now")] if whole else []
            said += [Said(chosen[1], "after" if whole else "now")] if chosen[1] else []
        else:
            moved = [Said(chosen[1], "now")] if chosen[1] and chosen != self._focus else []
            new = [one for one in sentences if _name(one) not in self._told and text_of(one) != chosen[1]]
            said = moved + [Said(text_of(one), one.aloud) for one in new]
        self._what, self._told, self._focus = what, told, chosen
        return said


def text_of(widget: Widget) -> str:
    """The words on a widget, or what it is called where none stand on it."""
    return widget.label or " ".join(widget.lines).replace(" · ", ", ").replace("  ·  ", ", ")


def _name(widget: Widget) -> str:
    """By which it is known whether it was told; seconds that run are told once."""
    return "running" if widget.running else text_of(widget)


def _ended(text: str) -> str:
    return text if text.endswith(tuple(ENDS)) else f"{text}."


def _place(widget: Widget) -> tuple[float, float]:
    return widget.box.top // ROW, widget.box.left
