"""How an evening went: every attempt against its band, the day's figure, and the days before, in plain words.

A quiet page: nothing moves, nothing is asked. Whoever looks at an attempt reads what happened in it.
"""

from collections.abc import Hashable, Sequence
from dataclasses import replace

from musclewood.games.engine.how_it_went import Evening, Work
from musclewood.games.engine.results import Result
from musclewood.games.engine.shelf import Product, product_of
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.palette import palette
from musclewood.games.kit.slips import lay_slip
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Drawing, Look, Widget, bottom_of, button, in_rows, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Page, Surroundings, Transition
from musclewood.games.screens.base.products import NO_DAY, draw_product
from musclewood.games.screens.base.scenes import BENCH
from musclewood.games.screens.base.told import Effort, EffortPlot, effort_of, figure_in, what_happened
from musclewood.games.workshops import workshops

MANY, FEW = (4, 3), (3, 2)  # attempts side by side and below one another
LEAF = MANY[0] * MANY[1]
PANEL = Box(24, 98, 836, 516)
TOLD_AT, TOLD_WIDTH, LOWEST = (880.0, 98.0), 384.0, 626.0


class HowItWentPage(Page):
    """`evenings` are the latest first; `number` is the one that is looked at. `products`: what was made in them."""

    scene = BENCH

    def __init__(
        self, around: Surroundings, evenings: Sequence[Evening], products: Sequence[Product] = (), number: int = 0
    ) -> None:
        super().__init__(around)
        self.evenings, self.number, self.leaf = evenings, number, 0
        self._products = {(product.workshop, product.seed): product for product in products}
        self._evening: tuple[int, Evening] | None = None

    @property
    def evening(self) -> Evening | None:
        """The one that is looked at, read once."""
        if not self.evenings:
            return None
        if self._evening is None or self._evening[0] != self.number:
            self._evening = self.number, self.evenings[self.number]
        return self._evening[1]

    @property
    def leaves(self) -> list[tuple[Work, int]]:
        """Each exercise in as many parts as its attempts need: the exercise, and the first attempt of the part."""
        works = self.evening.works if self.evening else ()
        return [(work, first) for work in works for first in range(0, len(work.results), LEAF)]

    def state(self) -> Hashable:
        return (self.number, self.leaf, self._looked_at)

    def turned(self) -> Hashable:
        return (self.number, self.leaf)

    @property
    def _looked_at(self) -> int | None:
        return int(self.focus.removeprefix("rep:")) if self.focus.startswith("rep:") else None

    # -- laid out
    def build(self, canvas: Canvas) -> list[Widget]:
        words, evening = self.theme.words, self.evening
        if evening is None:
            empty = sentence(canvas, self.theme, words("evening.empty"), (40, 34), 900, Look(size=LARGE, bold=True))
            return [*self._ways_on(canvas), empty]
        title = words("evening.title", day=evening.day.strftime("%d.%m.%Y"))
        head = sentence(canvas, self.theme, title, (40, 24), 836, Look(size=BODY, bold=True))
        work, first = self.leaves[self.leaf]
        shown = work.results[first : first + LEAF]
        beside = [_effort(result) for result in work.results]
        tiles = [self._tile(first + number, work, result, beside) for number, result in enumerate(shown)]
        return [*self._ways_on(canvas), *tiles, head, *self._told(canvas, work)]

    def _tile(self, number: int, work: Work, result: Result, beside: Sequence[Effort]) -> Widget:
        across, down = FEW if len(work.results) <= FEW[0] * FEW[1] else MANY
        row, column = divmod(number % LEAF, across)
        wide, high = (PANEL.width - 36) / across, (PANEL.height - 30) / down
        box = Box(PANEL.left + 18 + column * wide, PANEL.top + 15 + row * high, wide, high).grown(-10)
        return Widget(
            box,
            key=f"rep:{number}",
            bare=True,
            picture=_drawing(number + 1, result, beside, self._product(work, result)),
            label=self.theme.words("evening.number", number=number + 1),
        )

    def _product(self, work: Work, result: Result) -> Product | None:
        """What an attempt made, as it stands on the shelf."""
        if not result.made:
            return None
        alone = product_of(result.rep, work.workshop, NO_DAY)
        return self._products.get((alone.workshop, alone.seed), alone)

    def _told(self, canvas: Canvas, work: Work) -> list[Widget]:
        """What the exercise came to, and what happened in the attempt that is looked at."""
        words, looked_at = self.theme.words, self._looked_at
        place = words(f"place.{work.workshop}") if work.workshop in workshops() else work.title
        slips = [sentence(canvas, self.theme, place, TOLD_AT, TOLD_WIDTH, Look(size=BODY, bold=True, margin=16))]
        if looked_at is not None and looked_at < len(work.results):
            told = [words("evening.number", number=looked_at + 1), *self._happened(work, work.results[looked_at])]
        else:
            told = summary(self.theme, work)
        apart = self._slips(canvas, slips, told)
        return apart if bottom_of(apart) <= LOWEST else self._slips(canvas, slips, [" ".join(told)])

    def _slips(self, canvas: Canvas, slips: list[Widget], told: list[str]) -> list[Widget]:
        """Each on a slip of its own below the others."""
        for text in told:
            at = (TOLD_AT[0] + 8, bottom_of(slips) + 8)
            slip = sentence(canvas, self.theme, text, at, TOLD_WIDTH - 8, Look(size=SMALL, margin=14))
            slips = [*slips, slip]
        return slips

    def _happened(self, work: Work, result: Result) -> list[str]:
        """Where a workshop is no more, its words are gone with it."""
        return what_happened(self.theme.words, work.workshop, result) if work.workshop in workshops() else []

    def _ways_on(self, canvas: Canvas) -> list[Widget]:
        words = self.theme.words
        tags = [button(canvas, self.theme, "back", words("common.back"), icon=icons.leaf_turn, first=True, size=SMALL)]
        if len(self.leaves) > 1:
            part = words("evening.part", number=self.leaf + 1, total=len(self.leaves))
            tags.append(button(canvas, self.theme, "part", part, icon=icons.arrow, size=SMALL))
        if self.number + 1 < len(self.evenings):
            tags.append(
                button(canvas, self.theme, "earlier", words("evening.earlier"), icon=icons.leaf_turn, size=SMALL)
            )
        if self.number > 0:
            tags.append(button(canvas, self.theme, "later", words("evening.later"), icon=icons.arrow, size=SMALL))
        placed = in_rows(tags, 40, 0, 1230, 16)
        return [tag.moved(tag.box.left, tag.box.top + 708 - bottom_of(placed)) for tag in placed]

    def paint(self, canvas: Canvas) -> None:
        if self.evening is not None:
            lay_slip(canvas, PANEL, "panel", self.theme.slip, outlined=self.theme.settings.high_contrast)

    # -- answered
    def chosen(self, key: str) -> Transition | None:
        if key == "back":
            return Back()
        if key == "part":
            self.leaf = (self.leaf + 1) % len(self.leaves)
        elif key in ("earlier", "later"):
            self.number, self.leaf = self.number + (1 if key == "earlier" else -1), 0
        return None  # an attempt is only looked at


def summary(theme: Theme, work: Work) -> list[str]:
    """The exercise in plain words: how much counted, how it was, and how that is beside the days before."""
    words = theme.words
    told = [words("evening.counted", made=work.made, total=len(work.results))]
    if work.figure is not None:
        told.append(words(f"evening.{work.progress}", value=_value(theme, work)))
    made, tried = work.unseen
    if tried:
        told.append(words("evening.unseen", made=made, total=tried))
    if work.compared in ("more", "less"):
        told.append(words(f"evening.{work.compared}.{work.progress}"))
    elif work.compared != "nothing":
        told.append(words(f"evening.{work.compared}"))
    if work.compared == "less":
        told.append(words("evening.differ"))
    return told


def _value(theme: Theme, work: Work) -> str:
    """The figure as it is read: of a hundred, or in seconds."""
    figure = work.figure or 0.0
    match work.progress:
        case "brisker":
            return figure_in(theme.words, round(1 / figure, 1)) if figure > 0 else "-"
        case "quieter":
            return figure_in(theme.words, round(-figure))
        case _:
            return figure_in(theme.words, round(100 * figure))


def _effort(result: Result) -> Effort:
    """Against the level that was asked, or the way; how long it should have lasted is said in words."""
    effort = effort_of(result)
    return effort if result.pattern else replace(effort, asked_s=0.0, begins_s=0.0)


def _drawing(number: int, result: Result, beside: Sequence[Effort], product: Product | None) -> Drawing:
    """The effort, as high as the others of its exercise, and what it made."""

    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        plot = Box(box.left + 8, box.top + 6, box.width - 76, box.height - 50)
        EffortPlot(plot, _effort(result), beside).draw(canvas, theme, 4.0)
        if product is not None:
            draw_product(canvas, Box(plot.right + 6, plot.top + 10, 60, plot.height), product)
        foot = box.bottom - 20
        theme.letters.write(canvas, [str(number)], (box.left + 10, foot), SMALL, theme.ink, anchor="midleft")
        _mark(canvas, theme, (plot.right - 12, foot), made=result.made)
        if result.unseen:
            _door(canvas, theme, Box(box.left + 58, foot - 15, 22, 30))

    return draw


def _mark(canvas: Canvas, theme: Theme, at: tuple[float, float], *, made: bool) -> None:
    """A peg in its hole for what counted, the hole alone for what did not."""
    canvas.disc(theme.ink, at, 13)
    canvas.disc(palette().paper["lamp-deep"] if made else theme.slip, at, 10)
    if made:
        canvas.disc(theme.ink, at, 4)


def _door(canvas: Canvas, theme: Theme, box: Box) -> None:
    """A closed door: it was done without seeing the effort."""
    canvas.surface.fill(theme.ink, canvas.area(box))
    canvas.disc(palette().paper["lamp"], (box.right - 6, box.top + box.height / 2), 3)
