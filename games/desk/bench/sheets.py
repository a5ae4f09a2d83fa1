"""The right sheet of the bench: tests to choose, what the patient does now, and what was found.

Each is set as large as its paper allows: where the reader's letters are large, all of it shrinks together, and no
letters become smaller than the desk's smallest.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.figures import figure, sites_of
from musclewood.games.desk.base.pieces import DENSE, FINE, from_left, picture, tag, words_at
from musclewood.games.desk.bench.found import Found, told
from musclewood.games.examining.steps import Shown, Subject
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import LARGE, SMALL
from musclewood.games.kit.widgets import Widget
from musclewood.games.running.subjects import KINDS
from musclewood.games.screens.base.bodies import Site
from musclewood.profiles.home.pads import PadPlace

SHARES = (1.0, 0.9, 0.8, 0.7, 0.6)
PAD = 20.0  # from the edge of the paper
CLOCK_H = 170.0
BODY_H = 232.0
GAUGE_ROOM = 150.0
ACROSS = 1.5  # what is read across the room is so much larger than a title


class Setting:
    """One sheet being set from top to bottom at a share of the usual sizes."""

    def __init__(self, canvas: Canvas, theme: Theme, paper: Box, share: float) -> None:
        self.canvas, self.theme, self.share = canvas, theme, share
        self.left, self.width = paper.left + PAD, paper.width - 2 * PAD
        self.top, self.bottom = paper.top + 14, paper.bottom - 14
        self.placed: list[Widget] = []
        self._too_wide = False  # a word is wider than the place for it

    def size(self, usual: float) -> float:
        """Letters of this size, shrunk with the rest; never below the desk's smallest."""
        return max(usual * self.share, FINE / self.theme.letters.text_scale)

    def write(self, text: str, size: float = DENSE, *, bold: bool = False) -> None:
        """Lines of text over the whole width."""
        size, width = self.size(size), self.width - 8
        made = words_at(self.canvas, self.theme, text, (self.left + 4, self.top), width, size=size, bold=bold)
        across = self.theme.letters.measure(self.canvas, list(made.lines), size, bold=bold)[0]
        self._too_wide = self._too_wide or across > width
        self.placed.append(made)
        self.top = made.box.bottom + 6

    def tag(self, key: str, text: str, size: float = DENSE, *, width: float = 0.0, first: bool = False) -> Widget:
        """Something to choose, not yet anywhere."""
        return tag(self.canvas, self.theme, key, text, first=first, size=self.size(size), width=width or self.width)

    def tags(self, made: list[Widget], left: float, top: float) -> float:
        """Below one another; returns where they end."""
        for one in made:
            self.placed.append(one.moved(left, top))
            top += one.box.height + 8
        return top

    def fits(self, paper: Box) -> bool:
        return not self._too_wide and all(
            one.box.bottom <= paper.bottom - 8 and one.box.right <= paper.right - 8 for one in self.placed
        )


def fitted(canvas: Canvas, theme: Theme, paper: Box, compose: Callable[[Setting], None]) -> list[Widget]:
    """The sheet at the largest share of the usual sizes at which nothing leaves its paper."""
    setting = Setting(canvas, theme, paper, SHARES[0])
    for share in SHARES:
        setting = Setting(canvas, theme, paper, share)
        compose(setting)
        if setting.fits(paper):
            break
    return setting.placed


def choices(setting: Setting, sites: list[Site], first_involved: bool, at_once: bool | None) -> None:
    """The body with the pads, how both sides are tested, and the tests. `at_once` is None with one channel."""
    words = setting.theme.words
    beside = setting.left + 162
    ways = [("first", f"desk.bench.first-{str(first_involved).lower()}")]
    if at_once is not None:
        ways.append(("at-once", f"desk.bench.at-once-{str(at_once).lower()}"))
    tests = [setting.tag(f"test:{kind}", words(f"desk.bench.test-{kind}")) for kind in KINDS]
    room = setting.bottom - setting.top - sum(one.box.height + 8 for one in tests) - 4
    body = Box(setting.left - 6, setting.top, 150, max(120.0, min(BODY_H, room)))
    label = words_at(
        setting.canvas, setting.theme, words("desk.bench.ways"), (beside + 4, setting.top),
        setting.left + setting.width - beside - 4, size=setting.size(FINE),
    )  # fmt: skip
    made = [setting.tag(key, words(text), FINE, width=setting.left + setting.width - beside) for key, text in ways]
    setting.placed += [picture(body, figure(sites)), label]
    # The tests come first for whoever goes through with Tab: they are what is wanted here.
    at = len(setting.placed)
    below = setting.tags(made, beside, label.box.bottom + 6)
    ways_placed, setting.placed[at:] = setting.placed[at:], []
    setting.tags(tests, setting.left, max(below, body.bottom + 8) + 4)
    setting.placed += ways_placed


def cue(setting: Setting, shown: Shown, places: Mapping[str, PadPlace]) -> None:
    """What the patient does now, large enough to be read across the room."""
    words = setting.theme.words
    across = shown.doing not in ("place", "pain")
    if shown.band:
        setting.width -= GAUGE_ROOM
    key = f"desk.bench.do-{shown.doing.replace(' ', '-')}"
    setting.write(words(key), LARGE * (ACROSS if across else 1.0), bold=True)
    if shown.subjects and shown.doing != "place":
        setting.write("; ".join(_named(setting.theme, one) for one in shown.subjects), SMALL)
    if shown.of:
        setting.write(words("desk.bench.trial", number=shown.number, of=shown.of))
    if shown.note:
        setting.write(words(f"measuring.{shown.note}"))
    if shown.doing == "place":
        _pads(setting, shown.subjects, places)
    elif shown.doing == "pain":
        _pain(setting)
    elif shown.doing != "keep":  # the clock needs its place
        setting.placed.append(Widget(Box(setting.left, setting.top, setting.width, CLOCK_H - 20), bare=True))


def large_gauge(paper: Box) -> Box:
    """Where the effort stands while a band is asked for, to be seen across the room; its number is below."""
    return Box(paper.right - GAUGE_ROOM + 14, paper.top + 28, GAUGE_ROOM - 46, paper.height - 80)


def clock(paper: Box, *, beside: bool) -> Box:
    """Where the seconds are counted: `beside` the effort, or in the middle."""
    return Box(paper.left, paper.bottom - CLOCK_H - 20, paper.width - (GAUGE_ROOM if beside else 0.0), CLOCK_H)


def _named(theme: Theme, subject: Subject) -> str:
    return f"{subject.name}, {theme.words(f'desk.value.side.{subject.side}')}"


def _pads(setting: Setting, subjects: tuple[Subject, ...], places: Mapping[str, PadPlace]) -> None:
    """The body with the pads, and how far from the mark they lie, for each muscle."""
    words, beside = setting.theme.words, setting.left + 168
    setting.write(words("desk.bench.pads-from"), FINE)
    width = setting.left + setting.width - beside
    on = setting.tag("go on", words("desk.bench.placed"), SMALL, first=True)
    top = setting.top + 4
    lowest = setting.bottom - on.box.height - 8
    body = Box(setting.left, top, 150, max(150.0, min(284.0, lowest - top)))
    sites = sites_of([(one.name, str(one.side)) for one in subjects])
    setting.placed.append(picture(body, figure(sites)))
    steps: list[Widget] = []
    for subject in subjects:
        name = _named(setting.theme, subject)
        label = words_at(setting.canvas, setting.theme, name, (beside, top), width, size=setting.size(FINE), bold=True)
        place = places.get(subject.muscle, PadPlace())
        made = [
            setting.tag(f"{axis}:{subject.muscle}", words(f"pads.{way(axis, mm)}", mm=abs(mm)), FINE, width=width)
            for axis, mm in (("up", place.up_mm), ("out", place.out_mm))
        ]
        setting.placed.append(label)
        at = len(setting.placed)
        top = setting.tags(made, beside, label.box.bottom + 4) + 4
        steps += setting.placed[at:]
        del setting.placed[at:]
    setting.placed.append(
        on.moved(setting.left + setting.width - on.box.width, max(top, setting.bottom - on.box.height))
    )
    setting.placed += steps


def _pain(setting: Setting) -> None:
    """Eleven numbers, with what their ends mean."""
    words = setting.theme.words
    setting.write(f"0: {words('comfort.none')}", DENSE)
    numbers = [setting.tag(f"pain:{value}", str(value), SMALL) for value in range(11)]
    broad = max(one.box.width for one in numbers)
    numbers = [one.wide(broad) for one in numbers]
    across = 4 if 4 * broad + 3 * 14 <= setting.width else 3
    for first in range(0, 11, across):
        row = numbers[first : first + across]
        setting.placed += from_left(row, setting.left + 4, setting.top + row[0].box.height, 14)
        setting.top += row[0].box.height + 10
    setting.write(f"10: {words('comfort.most')}", DENSE)


def result(setting: Setting, found: Found) -> None:
    """What was found, and its trials to take out."""
    theme, words = setting.theme, setting.theme.words
    for number, line in enumerate(told(words, found.result)):
        setting.write(line, bold=number == 0)
    trials = found.trials()
    if not trials:
        return
    setting.write(words("desk.bench.trials"), FINE)
    columns = list(dict.fromkeys(side for side, *_ in trials))
    width = (setting.width + 8) / len(columns)
    below = dict.fromkeys(columns, setting.top)
    for number, side in enumerate(columns):
        if side == "only":
            continue
        at = (setting.left + 4 + width * number, setting.top)
        title = words(f"desk.value.role.{side}")
        setting.placed.append(
            words_at(setting.canvas, theme, title, at, width - 14, size=setting.size(FINE), bold=True)
        )
        below[side] = setting.placed[-1].box.bottom + 4
    for side, number, value_uv, why in trials:
        text = f"{number}: {value_uv:.0f} µV"
        if why:
            text += f"\n{words(f'desk.bench.reason-{why}')}"
        icon = marks.cross if why else marks.tick
        made = tag(
            setting.canvas, theme, f"trial:{side}:{number}", text, icon if side == "only" else None,
            size=setting.size(FINE), width=width - 8,
        )  # fmt: skip
        setting.placed.append(made.moved(setting.left + width * columns.index(side), below[side]))
        below[side] += made.box.height + 6


def way(axis: str, mm: int) -> str:
    """The key of the words for a step from the mark, as at home."""
    ways = {"up": ("down", "level", "up"), "out": ("in", "middle", "out")}[axis]
    return ways[1 + (mm > 0) - (mm < 0)]
