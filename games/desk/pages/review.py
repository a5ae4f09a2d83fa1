"""Sessions to look at with the patient: one from the list as a graph of what was done against what was asked, two
beside each other."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from datetime import tzinfo
from functools import partial

from musclewood.games.desk.base import marks
from musclewood.games.desk.base.office import Office, as_sentence
from musclewood.games.desk.base.page import DeskPage
from musclewood.games.desk.base.pieces import DENSE, FINE, Tool, foot, picture, sheet, tag, words_at
from musclewood.games.desk.base.scrolling import count_shown, first_shown
from musclewood.games.desk.pages.review_pictures import draw_reps
from musclewood.games.kit.canvas import Box, Canvas
from musclewood.games.kit.theme import Theme
from musclewood.games.kit.typeface import SMALL
from musclewood.games.kit.widgets import Look, Widget, sentence
from musclewood.games.screens.base import icons
from musclewood.games.screens.base.page import Back, Surroundings, Transition
from musclewood.profiles.errors import HandoverError, PrescriptionError, TrustError
from musclewood.profiles.journal.history import zone_of
from musclewood.profiles.journal.ledger import LedgerSession
from musclewood.profiles.journal.records import RepRecord

LIST, GRAPHS = Box(24, 92, 292, 536), Box(334, 92, 922, 536)
BESIDE = 2  # sessions that are shown at most


class ReviewPage(DeskPage):
    """The list on the left: a press shows a session or takes it away. Everything on the right only shows."""

    def __init__(self, around: Surroundings, office: Office, code: str) -> None:
        super().__init__(around)
        self.office, self.code = office, code
        self.trouble = ""
        self.sessions: Sequence[LedgerSession] | None = None
        self.titles: dict[str, str] = {}
        self.shown_ids: list[int] = []
        self.exercise = 0
        self.over_time = False
        self.first = 0
        self._zone: tzinfo | None = None
        self.soon(self._read)

    def _read(self) -> Transition | None:
        clinic = self.office.clinic
        try:
            done = [one for one in clinic.done(self.code, efforts=True).counting() if one.reps]
            orders = clinic.orders(self.code)
        except (HandoverError, PrescriptionError, TrustError) as error:
            self.sessions, self.trouble = (), as_sentence(self.theme.words, error)
            return None
        self.sessions = sorted(done, key=lambda one: one.started, reverse=True)
        self.titles = {one.id: one.title for order in orders for one in order.exercises}
        self._zone = zone_of(orders[-1].timezone) if orders else None
        self.shown_ids = [one.session_id for one in self.sessions[:1]]
        return None

    def state(self) -> Hashable:
        picked = (tuple(self.shown_ids), self.exercise, self.over_time)
        return (self.busy, self.trouble, self.sessions is None, picked, self.first, self.focus)

    # -- what is shown

    @property
    def chosen_sessions(self) -> list[LedgerSession]:
        """The older one above, so that change reads downwards."""
        picked = [one for one in self.sessions or () if one.session_id in self.shown_ids]
        return sorted(picked, key=lambda one: one.started)

    def exercises(self) -> list[str]:
        """Ids of the exercises of the sessions shown, in the order in which they were done."""
        return list(dict.fromkeys(rep.exercise_id for session in self.chosen_sessions for rep in session.reps))

    def build(self, canvas: Canvas) -> list[Widget]:
        theme, words = self.theme, self.theme.words
        title = words("desk.review.title", code=self.code)
        head = sentence(canvas, theme, title, (24, 20), 500, Look(size=SMALL, bold=True, margin=14))
        said = self.trouble or (words("desk.moment") if self.sessions is None else words("desk.review.hint"))
        if self.sessions is not None and not self.sessions and not self.trouble:
            said = words("desk.review.none")
        wide = 1256 - head.box.right - 18
        line = sentence(canvas, theme, said, (head.box.right + 18, 20), wide, Look(size=FINE, margin=14))
        tools = [Tool("back", words("common.back"), icons.leaf_turn)]
        if self.chosen_sessions:
            way = "reps" if self.over_time else "time"
            tools.append(Tool("way", words(f"desk.review.{way}"), icons.arrow))
        if len(self.exercises()) > 1:
            tools.append(Tool("exercise", words("desk.review.exercise"), icons.arrow))
        papers = [sheet(LIST), sheet(GRAPHS)]
        return [head, line, *papers, *self._list(canvas), *self._graphs(canvas), *foot(canvas, theme, tools)]

    def _list(self, canvas: Canvas) -> list[Widget]:
        tags = [self._entry(canvas, one) for one in self.sessions or ()]
        heights, room = [one.box.height + 8 for one in tags], LIST.height - 28
        keys = [one.key for one in tags]
        self.first = first_shown(heights, room, self.first, keys.index(self.focus) if self.focus in keys else None)
        last = self.first + count_shown(heights, room, self.first)
        top, placed = LIST.top + 14, _more(self.first > 0, last < len(tags))
        for one in tags[self.first : last]:
            placed.append(one.moved(LIST.left + 14, top))
            top += one.box.height + 8
        return placed

    def _entry(self, canvas: Canvas, session: LedgerSession) -> Widget:
        made = sum(rep.verdict == "counted" for rep in session.reps)
        at = session.started.astimezone(self._zone)
        text = f"{at:%Y-%m-%d %H:%M}\n" + self.theme.words("desk.review.made", made=made, count=len(session.reps))
        lit = session.session_id in self.shown_ids
        return tag(canvas, self.theme, f"session:{session.session_id}", text, first=lit, size=FINE, width=264)

    def _graphs(self, canvas: Canvas) -> list[Widget]:
        theme, words, exercises = self.theme, self.theme.words, self.exercises()
        if not exercises:
            return []
        exercise = exercises[self.exercise % len(exercises)]
        name = self.titles.get(exercise, exercise)
        title = words_at(canvas, theme, name, (GRAPHS.left + 20, GRAPHS.top + 12), GRAPHS.width - 40, bold=True)
        key = words_at(
            canvas, theme, words("desk.review.key"), (GRAPHS.left + 20, title.box.bottom), GRAPHS.width - 40, size=FINE
        )
        placed = [title, key]
        sessions = self.chosen_sessions
        top = key.box.bottom + 6
        height = (GRAPHS.bottom - 10 - top) / max(1, len(sessions))
        for session in sessions:
            reps = [rep for rep in session.reps if rep.exercise_id == exercise]
            line = words_at(
                canvas, theme, self._told(session, reps), (GRAPHS.left + 20, top), GRAPHS.width - 40, size=DENSE
            )
            box = Box(GRAPHS.left + 8, line.box.bottom, GRAPHS.width - 20, top + height - line.box.bottom - 4)
            placed += [line, picture(box, partial(_drawn, reps, self.over_time))]
            top += height
        return placed

    def _told(self, session: LedgerSession, reps: Sequence[RepRecord]) -> str:
        at = session.started.astimezone(self._zone)
        if not reps:
            return self.theme.words("desk.review.not-done", day=f"{at:%Y-%m-%d}")
        made = sum(rep.verdict == "counted" for rep in reps)
        pains = [one.value for one in session.ratings if one.what == "pain"]
        pain = f"{max(pains)}" if pains else "–"
        mean = sum(rep.mean_pct_mvc for rep in reps) / len(reps)
        asked = sum(rep.target_pct_mvc for rep in reps) / len(reps)
        figures = {"made": made, "count": len(reps), "mean": f"{mean:.0f}", "asked": f"{asked:.0f}", "pain": pain}
        return self.theme.words("desk.review.session", day=f"{at:%Y-%m-%d}", **figures)

    # -- what is chosen

    def chosen(self, key: str) -> Transition | None:
        head, _, rest = key.partition(":")
        if key == "back":
            return Back()
        if key == "way":
            self.over_time = not self.over_time
        elif key == "exercise":
            self.exercise += 1
        elif head == "session":
            number = int(rest)
            if number in self.shown_ids:
                self.shown_ids.remove(number)
            else:
                self.shown_ids = [*self.shown_ids, number][-BESIDE:]
            self.exercise = 0
        return None

    def scroll(self, rows: int) -> None:
        self.first = max(0, min(self.first - rows, len(self.sessions or ()) - 1))
        self.focus = ""

    def _step(self, by: int) -> None:
        """Through everything, also sessions that are not in sight."""
        sessions = [f"session:{one.session_id}" for one in self.sessions or ()]
        order = [*sessions, *(one.key for one in self.choices() if not one.key.startswith("session:"))]
        here = order.index(self.focus) if self.focus in order else -by
        self.focus = order[(here + by) % len(order)]


def _more(above: bool, below: bool) -> list[Widget]:
    """Signs that the list goes on."""
    found = [picture(Box(LIST.right - 30, LIST.top + 6, 24, 16), marks.wedge(-1))] if above else []
    return [*found, *([picture(Box(LIST.right - 30, LIST.bottom - 24, 24, 16), marks.wedge(1))] if below else [])]


def _drawn(reps: Sequence[RepRecord], over_time: bool, canvas: Canvas, theme: Theme, box: Box) -> None:
    if reps:
        draw_reps(canvas, theme, box, reps, over_time=over_time)
