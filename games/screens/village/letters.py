"""Letters from the clinic: a file or folder dropped on the window, the words to be compared, and what came of it."""

from collections.abc import Callable, Hashable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace

from musclewood.games.home.post import Post, PostResult
from musclewood.games.kit.canvas import Canvas
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, bottom_of, button, in_rows, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import WREN_ROOM, Back, Leave, Page, Push, Surroundings, Transition
from musclewood.games.screens.base.scenes import BENCH
from musclewood.games.screens.village.picking import PickPage
from musclewood.profiles.exchange.admission import Unsigned


class LettersPage(Page):
    """Takes in what is dropped on it. The post works in a thread, since a folder may lie far away."""

    scene = BENCH

    def __init__(self, around: Surroundings, post: Post) -> None:
        super().__init__(around)
        self.post = post
        self.answer: PostResult | None = None
        self._last = ""
        self._new_clinic = False
        self._work = ThreadPoolExecutor(max_workers=1, thread_name_prefix="post")
        self._going: Future[PostResult] | None = None
        post.look()

    def drop(self, path: str) -> None:
        """A file or folder that was dropped on the window."""
        self._last, self._new_clinic = path, False
        self._ask(lambda: self.post.receive(path))

    def _ask(self, work: Callable[[], PostResult]) -> None:
        if self._going is None:
            self._going = self._work.submit(work)

    def update(self, dt_s: float) -> Transition | None:
        if self._going is not None and self._going.done():
            self.answer, self._going = self._going.result(), None
        return super().update(dt_s)

    def state(self) -> Hashable:
        return (id(self.answer), self._going is not None, self.post.waiting, self.post.stick)

    # -- laid out
    def build(self, canvas: Canvas) -> list[Widget]:
        if self._going is not None:
            return self._page(canvas, "letters.title", [self.theme.words("letters.waiting")], ())
        answer = self.answer
        self.eager = answer is None or (
            answer.asks is None and answer.unsigned is None
        )  # nobody should trust a clinic by pressing Enter once too often
        if answer is not None and answer.unsigned is not None:
            return self._unsigned(canvas, answer.unsigned)
        if answer is None:
            told = [self.theme.words("letters.waits" if self.post.waiting else "letters.drop")]
            return self._page(canvas, "letters.title", told, self._ways())
        if answer.asks is not None:
            told = [self.theme.words("letters.compare", clinic=answer.asks.clinic)]
            return self._page(canvas, "letters.new", told, ("same", "not-same"), answer.asks.words)
        lines = [self.theme.words(f"letters.{key}", **values) for key, values in answer.told]
        if answer.own_words:
            lines.append(self.theme.words("letters.own-words"))
        onward = ("begin" if self.post.changed else "back",)
        further = ("new-clinic",) if answer.another_clinic else ()
        if any(key in ("sent", "nothing-to-send") for key, _ in answer.told):  # nobody comes here by accident
            further = (*further, "new-sender")
        return self._page(canvas, "letters.title", lines, (*onward, *further), answer.own_words)

    def _ways(self) -> tuple[str, ...]:
        """What can be done without dragging anything."""
        ways = {"stick": self.post.stick, "visit": self.post.address, "pick": True, "report": self.post.readable}
        return (*(key for key, there in ways.items() if there), "back")

    def _unsigned(self, canvas: Canvas, order: Unsigned) -> list[Widget]:
        """What is missing, and what the file orders: a yes here is meant, so nothing stands ready to be pressed."""
        words = self.theme.words
        told = [words("letters.unsigned-missing"), words("letters.unsigned-ask"), " · ".join(order.exercises)]
        return self._page(canvas, "letters.unsigned-title", told, ("not-unsigned", "although"))

    def _page(
        self, canvas: Canvas, title: str, told: list[str], keys: tuple[str, ...], spoken: tuple[str, ...] = ()
    ) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        head = sentence(canvas, theme, words(title), (40, 34), 900, Look(size=LARGE, bold=True))
        slips = [head]
        for line in told:
            slips.append(sentence(canvas, theme, line, (60, bottom_of(slips) + 16), 1120, Look(size=BODY)))
        grid = word_grid(canvas, theme, spoken, bottom_of(slips) + 18)
        signs = {
            "back": icons.leaf_turn,
            "begin": icons.arrow,
            "visit": icons.arrow,
            "stick": icons.arrow,
            "same": icons.arrow,
            "pick": icons.folder,
            "report": icons.page,
        }
        tags = [
            button(canvas, theme, key, words(f"letters.{key}"), icon=signs.get(key), first=number == 0 and self.eager)
            for number, key in enumerate(keys)
        ]
        return [*in_rows(tags, 60, bottom_of([*slips, *grid]) + WREN_ROOM, 1160, 24), *slips, *grid]

    # -- answered
    def chosen(self, key: str) -> Transition | None:
        asks = self.answer.asks if self.answer else None
        match key:
            case "visit":
                self._last = self.post.address
                self._ask(lambda: self.post.receive(self._last))
            case "stick" if self.post.stick is not None:
                self._last = str(self.post.stick)
                self._ask(lambda: self.post.receive(self._last))
            case "pick":
                return Push(PickPage(self.around, self.drop))
            case "report":
                self._ask(self.post.show_report)
            case "same" if asks is not None:
                self._ask(lambda: self.post.receive(self._last, asks.words, new_clinic=self._new_clinic))
            case "although" if self.answer is not None and self.answer.unsigned is not None:
                wanted = self.answer.unsigned
                self._ask(lambda: self.post.receive(self._last, although=wanted))
            case "not-unsigned":
                self.answer = PostResult((("unsigned", {}),))
            case "new-clinic":
                self._new_clinic = True
                self._ask(lambda: self.post.receive(self._last, new_clinic=True))
            case "new-sender":
                self._ask(self.post.send_as_new)
            case "begin":
                self.post.begins = True
                return Leave()
            case "not-same":
                self.answer = PostResult((("not-confirmed", {}),))
            case _:
                return self.back()
        return None

    def back(self) -> Transition | None:
        return Leave() if self.post.changed else Back()


def word_grid(canvas: Canvas, theme: Theme, spoken: tuple[str, ...], top: float) -> list[Widget]:
    """Words to be read out and compared, numbered."""
    look = Look(size=SMALL, bold=True, margin=16)
    slips = [sentence(canvas, theme, f"{n}  {word}", (0, 0), 300, look) for n, word in enumerate(spoken, start=1)]
    broad = max((slip.box.width for slip in slips), default=0.0)
    slips = [replace(slip, box=slip.box._replace(width=broad)) for slip in slips]
    return in_rows(slips, 60, top, 1160, 14)
