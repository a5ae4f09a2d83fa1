"""The end of a session: morning over the village, windows lit, and what was made."""

from musclewood.games.engine.endings import Outcome
from musclewood.games.engine.wishes import noticed
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.typeface import BODY, LARGE, SMALL
from musclewood.games.kit.widgets import Look, Widget, bottom_of, button, in_rows, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.how_it_went import HowItWentPage
from musclewood.games.screens.base.life import Village
from musclewood.games.screens.base.page import WREN_ROOM, Home, Page, Push, Replace, Surroundings, Transition
from musclewood.games.screens.base.play import Play
from musclewood.games.screens.base.products import draw_product
from musclewood.games.screens.base.scenery import cut
from musclewood.games.screens.base.scenes import PLACES, village
from musclewood.games.screens.base.shelf import ShelfPage
from musclewood.games.workshops import workshops

SHOWN = 10  # of what was made today, the latest


class WrapUpPage(Page):
    """Says truly how it ended, by which rule and on which answer, and how much was done; nothing is ever scolded."""

    def __init__(self, around: Surroundings, day: Day, play: Play) -> None:
        super().__init__(around)
        self.day = day
        self.ending = play.view.ending or "complete"
        self.outcome = play.view.outcome or Outcome("done")
        self.counted, self.ordered = play.view.made, play.view.ordered
        self.made = play.made
        self.practice, self.tried = play.practice, play.tried
        self.battery_low = play.battery_low
        if not play.practice:
            day.shelf.extend(play.made)
        day.refresh()
        built = () if self.theme.settings.plain_evening else day.standing.built
        awake = PLACES if self.made else day.awake
        self.scene = village("dawn" if self.made else "dusk", awake, day.season, built, day.guest)
        self.life = Village()

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        head, *more = self._told()
        slips = [sentence(canvas, theme, head, (40, 34), 760, Look(size=LARGE, bold=True))]
        for told in more:
            slips.append(sentence(canvas, theme, told, (56, bottom_of(slips) + 10), 740, Look(size=BODY)))
        tags = [button(canvas, theme, "home", words("wrap.home"), first=True, icon=icons.arrow)]
        if self.day.shelf:
            tags.append(button(canvas, theme, "shelf", words("wrap.shelf"), icon=icons.pot, size=SMALL))
        if self.tried:
            tags.append(button(canvas, theme, "went", words("evening.open"), icon=icons.page, size=SMALL))
        if self.day.letters is not None and not self.practice:
            tags.append(button(canvas, theme, "post", words("wrap.post"), icon=icons.letter, size=SMALL))
        return [*in_rows(tags, 56, bottom_of(slips) + WREN_ROOM, 1160, 24), *slips]

    def _told(self) -> list[str]:
        """How it ended; for pain by which rule and what to do; how much was done."""
        words, ended = self.theme.words, self.outcome
        values = {"pain": ended.pain, "before": ended.before, "limit": ended.limit}
        told = [words(f"wrap.{ended.why}", **values)]
        if ended.ending == "pain":
            if ended.moment == "before":
                told[0] = words("wrap.pain-before", **values)
            elif ended.moment == "after":
                told[0] = words(f"wrap.{ended.why}-after", **values)
            told += [words(f"wrap.{ended.why}-rule", **values), words("wrap.pain-tell")]
        if ended.told:
            told.append(words(f"measuring.{ended.told}"))
        if self.ordered:
            told.append(words("wrap.counted", made=self.counted, total=self.ordered))
        told += self._answered()
        if self.practice:
            told.append(words("wrap.practice"))
        if self.battery_low:
            told.append(words("sensors.battery"))
        return told

    def _answered(self) -> list[str]:
        """What the village writes to the day's work, and what a maker noticed; after a whole
        session, if it is wanted."""
        if self.practice or not self.made or self.outcome.why != "done" or self.theme.settings.plain_evening:
            return []
        letter, kinds = self.day.standing.letter, {name: one.kinds[0] for name, one in workshops().items()}
        told = [self.theme.words(f"village.{letter}")] if letter else []
        if letter and not letter.endswith(".half"):  # enough to read for one evening
            return told
        progress = noticed(self.day.shelf, kinds)
        return [*told, self.theme.words(f"village.{progress[1]}")] if progress else told

    def paint(self, canvas: Canvas) -> None:
        hour = self.scene.hour
        awake = PLACES if self.made else self.day.awake
        if self.stands():
            self.life.draw(canvas, awake, self.time_s, self.theme.still, self.scene)
        if not self.made:
            return
        cut("village/bench", hour, canvas.scale).draw(canvas.surface)
        shown = self.made[-SHOWN:]
        step = min(104.0, 1000 / len(shown))
        left = 640 - step * len(shown) / 2
        for number, product in enumerate(shown):
            draw_product(canvas, Box(left + step * number + 4, 556, step - 8, 96), product)

    def chosen(self, key: str) -> Transition | None:
        if key == "post" and self.day.letters is not None:
            return Replace(self.day.letters())
        if key == "went":
            return Push(HowItWentPage(self.around, self.day.evenings(self.practice), [*self.day.shelf, *self.made]))
        shelf = ShelfPage(self.around, self.day.shelf, lambda: self.day.evenings(False))
        return Replace(shelf) if key == "shelf" else Home()

    def back(self) -> Transition | None:
        return Home()
