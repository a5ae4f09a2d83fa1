"""From a choice of source to a running session, or to a clear line about what is in the way."""

from musclewood.games.running.errors import CommandError
from musclewood.games.screens.base.day import Day
from musclewood.games.screens.base.notice import NoticePage
from musclewood.games.screens.base.page import Push, Replace, Surroundings, Transition
from musclewood.games.screens.session.session import SessionPage
from musclewood.games.screens.setup.retest import RetestPage
from musclewood.profiles.errors import JournalError
from musclewood.signal.errors import RecordingError, SensorError


def begin(around: Surroundings, day: Day, kind: str) -> Transition:
    """Open the session, or the test that is due, on a kind of source."""
    around.let_go()
    try:
        if day.testing and day.begin_retest is not None:
            return Replace(RetestPage(around, day, day.begin_retest(kind)))
        return Replace(SessionPage(around, day, day.begin(kind)))
    except (CommandError, JournalError, RecordingError, SensorError) as error:
        return Push(NoticePage(around, error))
