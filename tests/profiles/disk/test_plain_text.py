"""T2: what somebody else wrote is shown on one line, moves no cursor, and costs bounded work."""

from __future__ import annotations

import time

import pytest
from musclewood.games.commands.printing import show
from musclewood.profiles.disk.plain_text import is_one_line, is_plain, one_line, refuse_long_keys
from musclewood.profiles.errors import PrescriptionError
from musclewood.profiles.orders.prescription import dump, parse
from musclewood.profiles.orders.templates import template


@pytest.mark.parametrize(
    "hostile", ["a\nb", "\x1b[2J", "\x00", "\u202eevil", "\x9b31m", "a\rb", "\x7f", "\u2028", "\u2066x", "\x85"]
)
def test_a_name_that_could_hide_something_is_refused_and_never_shown_as_it_is(
    hostile: str, capsys: pytest.CaptureFixture[str]
) -> None:
    show(f"clinic: {hostile}, words: alpha")
    told = capsys.readouterr().out
    assert told.count("\n") == 1 and is_plain(told) and "words: alpha" in told
    order = template("weak-thigh-after-knee-operation")
    with pytest.raises(PrescriptionError, match="one line"):
        parse(dump(order.model_copy(update={"clinic": f"Clinic {hostile}"})))


@pytest.mark.parametrize("plain", ["Praxis Hainbüche", "Клиника", "診療所", 'Beech & Son\'s – "2"', "عيادة"])
def test_names_of_the_world_are_plain(plain: str) -> None:
    assert is_one_line(plain) and one_line(plain) == plain


def test_a_long_dotted_key_costs_no_time() -> None:
    for text in (
        "a." * 60_000 + "a = 1",
        '"x" . ' * 30_000 + "a = 1",
        "[" + "a." * 60_000 + "a]",
        "x={" + "a." * 99_999,
    ):
        began = time.process_time()
        with pytest.raises(PrescriptionError):
            parse(text)
        assert time.process_time() - began < 2
    refuse_long_keys("a.b.c = 1\n# " + "." * 100 + '\nx = "' + "." * 100 + '"\ny = [0.1, 0.2' + ", 0.3" * 100 + "]")
