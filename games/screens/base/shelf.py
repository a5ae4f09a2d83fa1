"""The shelf: everything that was ever made, the latest first. Choose one to look at it."""

from collections.abc import Callable, Hashable, Sequence

from musclewood.games.engine.how_it_went import Evening
from musclewood.games.engine.shelf import Product
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.slips import lay_slip
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Drawing, Look, Widget, bottom_of, button, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.how_it_went import HowItWentPage
from musclewood.games.screens.base.page import Back, Page, Push, Surroundings, Transition
from musclewood.games.screens.base.products import draw_product
from musclewood.games.screens.base.scenes import SHELF

COLUMNS, ROWS = 7, 3
PER_PAGE = COLUMNS * ROWS
BOARDS = (272.0, 428.0, 584.0)  # upper edges of the boards in assets/art/shelf
PLACE_WIDTH, PLACE_HEIGHT = 140.0, 124.0
FIRST = 150.0


class ShelfPage(Page):
    """Pages of three boards."""

    scene = SHELF

    def __init__(
        self, around: Surroundings, products: Sequence[Product], evenings: Callable[[], Sequence[Evening]] = tuple
    ) -> None:
        super().__init__(around)
        self.products = list(reversed(products))
        self.evenings = evenings
        self.number = 0

    @property
    def pages(self) -> int:
        return max(1, -(-len(self.products) // PER_PAGE))

    def state(self) -> Hashable:
        return self.number

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        head = sentence(canvas, theme, words("shelf.title"), (40, 30), 760, Look(size=LARGE, bold=True))
        widgets = [head]
        start = self.number * PER_PAGE
        for place, product in enumerate(self.products[start : start + PER_PAGE]):
            row, column = divmod(place, COLUMNS)
            box = Box(FIRST + column * PLACE_WIDTH, BOARDS[row] - PLACE_HEIGHT, PLACE_WIDTH, PLACE_HEIGHT)
            called = (
                f"{words(f'place.{product.workshop}')}. "
                f"{words('shelf.made-on', day=product.made_on.strftime('%d.%m.'))}"
            )
            key, drawing = f"product:{start + place}", _drawing(product)
            widgets.append(Widget(box, key=key, bare=True, picture=drawing, label=called))
        if not self.products:
            widgets.append(sentence(canvas, theme, words("shelf.empty"), (150, 190), 900, Look(size=BODY)))
        return [*widgets, *self._turners(canvas)]

    def _turners(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        tags = [button(canvas, theme, "back", words("common.back"), icon=icons.leaf_turn)]
        if self.pages > 1:
            tags.append(button(canvas, theme, "newer", words("shelf.newer"), icon=icons.leaf_turn))
            tags.append(button(canvas, theme, "older", words("shelf.older"), icon=icons.arrow))
        if self.products:
            tags.append(button(canvas, theme, "went", words("evening.open"), icon=icons.page))
        left, placed = 60.0, []
        for tag in tags:
            placed.append(tag.moved(left, 706 - tag.box.height))
            left = placed[-1].box.right + 24
        if self.pages > 1:
            text = words("shelf.page", number=self.number + 1, total=self.pages)
            page = sentence(canvas, theme, text, (0, 0), 300, Look(size=SMALL, margin=14))
            placed.append(page.moved(1240 - page.box.width, 34))
        return placed

    def chosen(self, key: str) -> Transition | None:
        if key == "back":
            return Back()
        if key in ("older", "newer"):
            self.number = (self.number + (1 if key == "older" else -1)) % self.pages
            return None
        if key == "went":
            return Push(HowItWentPage(self.around, self.evenings(), self.products))
        return Push(ProductPage(self.around, self.products, int(key.removeprefix("product:"))))


class ProductPage(Page):
    """One made thing, large, with what its rep was like."""

    scene = SHELF

    def __init__(self, around: Surroundings, products: Sequence[Product], number: int) -> None:
        super().__init__(around)
        self.products, self.number = products, number

    def state(self) -> Hashable:
        return self.number

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words, product = self.theme, self.theme.words, self.products[self.number]
        told = [words("shelf.made-on", day=product.made_on.strftime("%d.%m.%Y"))]
        for key, figure, scale in (("steady", "steadiness", 100.0), ("effort", "mean_pct_mvc", 1.0)):
            if figure in product.figures:
                told.append(words(f"shelf.{key}", value=round(product.figures[figure] * scale)))
        slips = [
            sentence(canvas, theme, words(f"place.{product.workshop}"), (700, 96), 520, Look(size=LARGE, bold=True))
        ]
        for text in told:
            slips.append(sentence(canvas, theme, text, (716, bottom_of(slips) + 16), 520, Look(size=BODY)))
        tags = [button(canvas, theme, "back", words("common.back"), icon=icons.leaf_turn, first=True)]
        if len(self.products) > 1:
            tags.append(button(canvas, theme, "newer", words("shelf.newer"), icon=icons.leaf_turn))
            tags.append(button(canvas, theme, "older", words("shelf.older"), icon=icons.arrow))
        left, placed = 60.0, []
        for tag in tags:
            placed.append(tag.moved(left, 706 - tag.box.height))
            left = placed[-1].box.right + 24
        return [*placed, *slips]

    def paint(self, canvas: Canvas) -> None:
        lay_slip(canvas, Box(96, 66, 540, 540), "panel", self.theme.slip)
        draw_product(canvas, Box(126, 96, 480, 480), self.products[self.number])

    def chosen(self, key: str) -> Transition | None:
        if key == "back":
            return Back()
        self.number = (self.number + (1 if key == "older" else -1)) % len(self.products)
        return None


def _drawing(product: Product) -> Drawing:
    def draw(canvas: Canvas, theme: Theme, box: Box) -> None:
        draw_product(canvas, Box(box.left + 14, box.top + 6, box.width - 28, box.height - 4), product)

    return draw
