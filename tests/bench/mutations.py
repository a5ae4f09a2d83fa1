"""Small faults planted one by one in a module that decides: which of them does no test notice?

Run `python tests/bench/mutations.py NAME... [--most N] [--only LINE]`; NAME is one of MODULES. Every mutation turns one
comparison, condition, sum, number or returned value into its neighbour, or swaps two arguments; a fixed choice of N of
them is taken, alike in every run, and each runs the tests of its module in a process of its own until one fails. What
survives is printed with its line, to be read: a test is missing, or the two ways of writing mean the same. What means
the same is named in EQUIVALENT with its reason, counts apart, and is not tried again but by --only.
"""

from __future__ import annotations

import argparse
import ast
import atexit
import contextlib
import copy
import importlib.abc
import importlib.util
import io
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).parents[2]
LIMIT_S = 120  # of processor time: whoever goes round for so long has been noticed
STEPS = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq, ast.NotEq: ast.Eq,
    ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn, ast.NotIn: ast.In,
    ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult, ast.And: ast.Or, ast.Or: ast.And,
}  # fmt: skip


@dataclass(frozen=True)
class Subject:
    """A module and the tests that hold it, the quickest first."""

    path: str
    tests: tuple[str, ...]


_PLAN = (
    "test_bounds_of_a_day.py",
    "test_every_bound.py",
    "test_dose.py",
    "test_skill.py",
    "test_clock_tricks.py",
    "test_unseen.py",
    "test_scaling_pasts.py",
)
_PHASES = ("test_phases.py", "test_phases_of_rest.py", "test_phases_of_sets.py", "test_phases_of_kinds.py")
_RULES = (
    "test_figures_of_a_rep.py",
    "test_rep_engine.py",
    *_PHASES,
    "test_kinds.py",
    "test_clockwork.py",
    "test_session.py",
    "test_session_stops.py",
    "test_session_tires.py",
)
PLAN = tuple(f"tests/profiles/plan/{name}" for name in _PLAN)
RULES = tuple(f"tests/games/engine/{name}" for name in _RULES)
MODULES = {
    "judging": Subject("games/engine/judging.py", RULES),
    "reps": Subject("games/engine/reps.py", RULES[2:6] + RULES[1:2] + RULES[6:]),
    "dose": Subject("profiles/plan/dose.py", PLAN),
    "scaling": Subject("profiles/plan/scaling.py", PLAN),
    "safety": Subject("profiles/plan/safety.py", PLAN),
    "admission": Subject(
        "profiles/exchange/admission.py",
        ("tests/profiles/trust/test_admission.py", "tests/profiles/trust/test_exchange.py"),
    ),
    "contractions": Subject(
        "signal/stream/contractions.py",
        (
            "tests/signal/stream/test_chain.py",
            "tests/signal/stream/test_contractions.py",
            "tests/signal/stream/test_slow_and_weak.py",
        ),
    ),
}  # fmt: skip
# What means the same, by module, line of the source and what it became; read one by one.
EQUIVALENT = {
    ("reps", "self._reading = Reading((0.0,) * len(planned.channels), (False,) * len(planned.channels), False)",
     ("Reading((False,) * len(planned.channels), (0.0,) * len(planned.channels), "
         "False)")): "nothing has been read yet: 0.0 and False are alike",
    ("reps", ('return max(0.0, self._lead_s - self._phase_s) if self._phase == "ready" and '
        'self._begins_itself else 0.0'), "-1.0"):
        "while it waits to begin there is always time left",
    ("judging", "return max(self._trace, default=0.0) <= QUIET_FLOOR", "-1.0"): "below five per cent either way",
    ("judging", "self._stirring_s = 0.0", "-1.0"): "before the first quiet tick nothing is earned that a "
        "stir could cost",
    ("dose", "most_attempts: int = 0", "-1"): "any number below 1 bounds nothing, and a plan always says one",
    ("dose", ("return replace(exercise, sets=sets, reps=min(exercise.reps, max(1, reps // sets)), "
        "most_attempts=most_attempts)"),
     "0"): "there are never more sets than reps",
    ("safety", "whole: int = 0", "1"): "a progress is never made without its figures",
    ("scaling", "for new, old, harder in zip(_figures(asked), _figures(before), _harder(exercise), strict=True)",
     ("zip(_figures(before), _figures(asked), _harder(exercise), "
         "strict=True)")): "the one of the two that lies the way is kept either way",
    ("contractions", "return False", "return None"): "nobody asks more of it than whether it is true",
    ("contractions", ("SILENT = -50.0  # level of nothing, as of what is smaller than a coarse converter's step: "
        "no level to fall to"), "40.0"): "a millionth of a millionth of a µV is as little as none",
    ("contractions", "elif muscle.contracting and (tick - muscle.last_seen) * self.step_s > LONGEST_SILENCE_S:",
     "(tick - muscle.last_seen) * self.step_s >= LONGEST_SILENCE_S"):
        "told one tick of 4 ms sooner, and it ends where it was last seen either way",
    ("contractions", "muscle.noticed = max(rise.zero - self._middle, muscle.ended or 0, 0)", "1"):
        "the first tick or the second: 4 ms, where the potential of a single motor unit lasts 10",
    ("contractions", "if any(since <= noticed < told for told, since in self._state.distrusted.items()):",
     "since < noticed < told"): "where hum began is not known to a tick of 4 ms: a turn of it takes 16 or 20",
    ("contractions", "if since_end_s >= SLOW_AFTER_S and self._rises_slowly(channel, muscle, tick, middle, muscular):",
     "since_end_s > SLOW_AFTER_S"): "a look of 16 ms later, for what takes a second to rise",
    ("contractions", "self._finish(channel, muscle, max(muscle.onset + 1, hold.last + 1 - self._release_middle))", "2"):
        "whatever is so short is dropped as too short, and a tick of 4 ms is less than a motor unit's potential takes",
    ("contractions", "if SILENT < fallen < muscle.level - math.log(OPENING_FALL):",
     "SILENT <= fallen < muscle.level - math.log(OPENING_FALL)"): "behind a filter nothing is ever exactly nothing",
    ("contractions", "if SILENT < fallen < muscle.level - math.log(OPENING_FALL):",
     "SILENT < fallen <= muscle.level - math.log(OPENING_FALL)"): "two measured levels are never exactly alike",
    ("contractions", "muscle.onset = max(muscle.noticed - self._before(muscle, tick), muscle.ended or 0, 0)", "1"):
        "the first tick or the second: 4 ms, where the potential of a single motor unit lasts 10",
    ("contractions", "return tick + 1 - len(recent) + (int(above[-1]) + 1 if len(above) else 0)", "2"):
        "one tick of 4 ms, where the potential of a single motor unit lasts 10",
    ("contractions", "LEVEL_UP_S, LEVEL_DOWN_S = 0.1, 1.5", "0.08000000000000002"):
        "it begins at the level of the last 0.1 s and has settled within 0.4 s either way; a seventh and a fifth of it "
        "are thresholds, which a fifth less time does not move by what could be heard in noise",
}  # fmt: skip


@dataclass(frozen=True)
class Mutation:
    """`new` stands in the place of a node: the one with this number, as `_code` tells them."""

    kind: str
    line: int
    before: str
    after: str
    number: int
    new: ast.AST

    def planted(self, source: str) -> ast.Module:
        """The whole module with it."""
        whole = ast.parse(source)
        parent, field, place = list(_code(whole))[self.number]
        if place is None:
            setattr(parent, field, self.new)
        else:
            getattr(parent, field)[place] = self.new
        return ast.fix_missing_locations(whole)


def _changes(node: ast.AST) -> Iterator[tuple[str, ast.AST]]:
    """Every small change of one node, as a copy, and its kind."""
    if isinstance(node, ast.Compare):
        for at, one in enumerate(node.ops):
            if type(one) in STEPS:
                new = copy.deepcopy(node)
                new.ops[at] = STEPS[type(one)]()
                yield "comparison", new
    elif isinstance(node, ast.BoolOp | ast.BinOp) and type(node.op) in STEPS:
        new = copy.deepcopy(node)
        new.op = STEPS[type(node.op)]()
        yield "sum" if isinstance(node, ast.BinOp) else "logic", new
    elif isinstance(node, ast.Constant) and isinstance(node.value, bool):
        yield "logic", ast.Constant(not node.value)
    elif isinstance(node, ast.Constant) and isinstance(node.value, int):
        yield from (("number", ast.Constant(node.value + by)) for by in (1, -1))
    elif isinstance(node, ast.Constant) and isinstance(node.value, float):
        near = (node.value * 1.25, node.value * 0.8) if node.value else (1.0, -1.0)
        yield from (("number", ast.Constant(value)) for value in near)
    elif isinstance(node, ast.UnaryOp) and isinstance(node.op, ast.Not):
        yield "logic", ast.Call(ast.Name("bool", ast.Load()), [node.operand], [])
    elif isinstance(node, ast.IfExp):
        yield "logic", ast.IfExp(node.test, node.orelse, node.body)
    elif isinstance(node, ast.If) and not isinstance(node.test, ast.Compare | ast.UnaryOp):
        yield "logic", ast.If(ast.UnaryOp(ast.Not(), node.test), node.body, node.orelse)
    elif isinstance(node, ast.Return) and node.value is not None and not _nothing(node.value):
        yield "returned", ast.Return(ast.Constant(None))
        if isinstance(node.value, ast.Compare | ast.BoolOp):
            yield "returned", ast.Return(ast.UnaryOp(ast.Not(), node.value))
    elif isinstance(node, ast.Call):
        if isinstance(node.func, ast.Name) and node.func.id in ("max", "min"):
            yield (
                "sum",
                ast.Call(ast.Name("min" if node.func.id == "max" else "max", ast.Load()), node.args, node.keywords),
            )
        elif (
            len(node.args) > 1 and not any(isinstance(one, ast.Starred) for one in node.args[:2]) and _differ(node.args)
        ):
            yield "swapped", ast.Call(node.func, [node.args[1], node.args[0], *node.args[2:]], node.keywords)


def _differ(arguments: list[ast.expr]) -> bool:
    return ast.unparse(arguments[0]) != ast.unparse(arguments[1])


def _nothing(node: ast.AST) -> bool:
    return isinstance(node, ast.Constant) and node.value is None


def _code(node: ast.AST) -> Iterator[tuple[ast.AST, str, int | None]]:
    """Parent, field and place of every node that runs, depth first: no annotation, decorator, docstring, sentence,
    name."""
    for field, value in ast.iter_fields(node):
        if field in ("annotation", "returns", "decorator_list", "names", "ctx") or isinstance(node, ast.JoinedStr):
            continue
        for place, child in enumerate(value) if isinstance(value, list) else [(None, value)]:
            if isinstance(child, ast.AST):
                yield node, field, place
                yield from _code(child)


def _child(node: ast.AST, field: str, place: int | None) -> ast.AST:
    value = getattr(node, field)
    found: ast.AST = value if place is None else value[place]
    return found


def mutations(source: str) -> list[Mutation]:
    """Every mutation of a module."""
    found = []
    for number, (node, field, place) in enumerate(_code(ast.parse(source))):
        old = _child(node, field, place)
        if isinstance(node, ast.Assign) and any(
            isinstance(one, ast.Name) and one.id == "__all__" for one in node.targets
        ):
            continue
        for kind, new in _changes(old):
            found.append(Mutation(kind, getattr(old, "lineno", 0), ast.unparse(old), ast.unparse(new), number, new))
    return found


def chosen(found: list[Mutation], most: int) -> list[Mutation]:
    """A fixed choice: as many of each kind as there are, up to their share."""
    order = sorted(range(len(found)), key=lambda number: random.Random(number).random())
    turn: Counter[str] = Counter()
    rank = {}
    for number in order:
        turn[found[number].kind] += 1
        rank[number] = turn[found[number].kind], number
    return [found[number] for number in sorted(sorted(order, key=lambda number: rank[number])[:most])]


class _Planted(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Gives one module in its mutated form to whoever imports it."""

    def __init__(self, name: str, path: Path, tree: ast.Module) -> None:
        self.name, self.path, self.tree = name, path, tree

    def find_spec(self, name: str, path: object = None, target: object = None):  # type: ignore[no-untyped-def]
        return importlib.util.spec_from_file_location(name, self.path, loader=self) if name == self.name else None

    def create_module(self, spec: object) -> None:
        return None

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self.tree, str(self.path), "exec"), module.__dict__)  # noqa: S102 a module is executed when it is imported


def _pytest(*arguments: str) -> int:
    import pytest

    with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
        return int(pytest.main(["-q", "-x", "-p", "no:cacheprovider", "--hypothesis-seed=0", *arguments]))


def _ready(tests: tuple[str, ...], cache: str) -> None:
    """Import all that the tests import, and forget again what is the program's: each mutation imports only that."""
    sys.dont_write_bytecode, sys.pycache_prefix = False, cache
    assert _pytest("--collect-only", *tests) == 0, "the tests cannot be collected"
    for name in [one for one in sys.modules if one.split(".")[0] in ("musclewood", "tests")]:
        del sys.modules[name]


def killed(subject: Subject, mutation: Mutation, source: str) -> bool:
    """Whether one of the tests fails, or never ends, in a process of its own."""
    child = os.fork()
    if child == 0:
        import resource

        resource.setrlimit(resource.RLIMIT_CPU, (LIMIT_S, LIMIT_S))
        name = "musclewood." + subject.path.removesuffix(".py").replace("/", ".")
        sys.meta_path.insert(0, _Planted(name, ROOT / subject.path, mutation.planted(source)))
        code = 99
        with contextlib.suppress(BaseException):
            code = _pytest(*subject.tests)
        os._exit(code)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) != 0


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="+", choices=list(MODULES))
    parser.add_argument("--most", type=int, default=40)
    parser.add_argument("--only", type=int, nargs="*", help="lines; those that are named the same are tried as well")
    parser.add_argument("--list", action="store_true")
    parser.add_argument("--part", type=int, nargs=2, default=(1, 1), help="the first of two parts: 1 2")
    options = parser.parse_args()
    os.chdir(ROOT)
    signal.signal(signal.SIGPIPE, signal.SIG_DFL)
    cache = tempfile.mkdtemp()
    atexit.register(shutil.rmtree, cache, ignore_errors=True)
    for name in options.names:
        subject = MODULES[name]
        tests = tuple(one for one in subject.tests if (ROOT / one).exists())
        subject = Subject(subject.path, tests)
        source = (ROOT / subject.path).read_text("utf-8")
        lines, taken = source.splitlines(), chosen(mutations(source), options.most)
        taken = [one for one in taken if not options.only or one.line in options.only]
        taken = taken[options.part[0] - 1 :: options.part[1]]
        if not options.list:
            _ready(subject.tests, cache)
        died = same = 0
        for one in taken:
            began, reason = time.monotonic(), EQUIVALENT.get((name, lines[one.line - 1].strip(), one.after))
            what = f"{name}:{one.line}: {one.before.splitlines()[0][:90]!r} -> {one.after.splitlines()[0][:90]!r}"
            if options.list:
                print(what)
                continue
            dead = (not reason or options.only is not None) and killed(subject, one, source)
            died += dead
            same += not dead and reason is not None
            word = "killed  " if dead else "the same" if reason else "SURVIVED"
            print(
                f"{word} {what} {time.monotonic() - began:.1f} s{'' if dead or not reason else ' (' + reason + ')'}",
                flush=True,
            )
        print(f"{name}: {died} of {len(taken) - same} killed, {same} more mean the same", flush=True)


if __name__ == "__main__":
    main()
