"""Which mistakes are made of a line, and that one put into a running program is there for all who hold the function."""

from __future__ import annotations

import importlib.util
import inspect
import sys
from collections import Counter
from functools import cache
from types import BuiltinFunctionType, ModuleType, SimpleNamespace

import pytest

from pricing.words import bind
from tests.mutation.__main__ import FILES, ROOT, files_of, is_enough
from tests.mutation.at_work import NothingToChange, Running
from tests.mutation.mutants import OWN_LINES, mutants_of
from tests.mutation.watching import Watch, unfreeze


def after(line: str) -> list[str]:
    """What may stand in place of the line's expressions."""
    text = f"def quantity(a, b, c, d):\n    return {line}\n"
    mutants = mutants_of(text)
    assert all(mutant.within == "quantity" and mutant.line == 2 for mutant in mutants)
    return [mutant.after for mutant in mutants]


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("a - b", ["a + b", "a"]),
        ("a * b", ["a / b", "a", "b"]),
        ("a / (b + c)", ["a * (b + c)", "a", "b - c", "b", "c"]),
        ("a <= b", ["a < b", "a > b"]),
        ("a == b", ["a != b"]),
        ("a is not None", ["a is None"]),
        ("not a", ["a"]),
        ("-a", ["a"]),
        ("1 - a", ["1 + a", "1", "0"]),
        ("a and b", ["a or b", "b", "a"]),
        ("a if b else c", ["c if b else a", "not (b)"]),
        ("minimum(a, b)", ["maximum(a, b)", "(a)", "(b)"]),
        ("total(a)", ["largest(a)", "(a)"]),
        ("opposite(a)", ["(a)"]),
        ("held(a, b, c)", ["(a)", "held(b, a, c)", "held(a, c, b)"]),
        ("where(a, b, c)", ["where(a, c, b)"]),
        ("[a for a in b if c]", ["[a for a in b]"]),
        ("f'{a + b}'", []),
    ],
)
def test_each_expression_has_its_mistakes(line, expected):
    assert sorted(after(line)) == sorted(expected)


def test_the_lines_stay_where_they_are():
    text = "def first(a, b):\n    return (\n        a\n        + b * (\n            a\n        )\n    )\n\n\n"
    text += "def second():\n    return 1\n"
    for mutant in mutants_of(text):
        assert mutant.text.count("\n") == text.count("\n")
        assert mutant.text.splitlines().index("def second():") == text.splitlines().index("def second():")


def test_what_is_told_when_something_is_refused_holds_no_mistake():
    assert mutants_of("def f(a):\n    raise ValueError(a + 1)\n") == []


@pytest.fixture
def module(tmp_path):
    file = tmp_path / "formulas.py"
    file.write_text(
        "LEAST = 0.25\n\n\ndef double(a):\n    return a * 2\n\n\nTABLE = {'negative': lambda a: 0 - a}\n\n\n"
        "def maker(a):\n    def inner(b):\n        return a - b\n\n    return inner\n",
        encoding="utf-8",
    )
    spec = importlib.util.spec_from_file_location("formulas_with_mistakes", file)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return file, module


def mistaken(file, before: str, after: str) -> str:
    return next(
        mutant.text
        for mutant in mutants_of(file.read_text(encoding="utf-8"))
        if (mutant.before, mutant.after) == (before, after)
    )


def test_a_mistake_is_there_for_whoever_holds_the_function(module):
    file, formulas = module
    held, bound = formulas.double, bind(formulas.double, {})
    Running([file]).put_in(file, mistaken(file, "a * 2", "a / 2"))
    assert (held(8), bound(8), bind(held, {})(8)) == (4, 4, 4)
    assert "a / 2" in inspect.getsource(held)


def test_a_mistake_reaches_words_of_a_table_and_functions_within_functions(module):
    file, formulas = module
    running = Running([file])
    running.put_in(file, mistaken(file, "0 - a", "0 + a"))
    assert formulas.TABLE["negative"](3) == 3
    running.put_in(file, mistaken(file, "a - b", "a + b"))
    assert formulas.maker(3)(1) == 4


def test_a_mistaken_figure_is_there_for_whoever_took_it(module, monkeypatch):
    file, formulas = module
    taker = ModuleType("taker")
    taker.LEAST = formulas.LEAST
    monkeypatch.setitem(sys.modules, "formulas_with_mistakes", formulas)
    monkeypatch.setitem(sys.modules, "taker", taker)
    Running([file]).put_in(file, mistaken(file, "0.25", "0.25 + 1"))
    assert (formulas.LEAST, taker.LEAST) == (1.25, 1.25)


def test_what_no_function_holds_is_told(module):
    file, _ = module
    with pytest.raises(NothingToChange):
        Running([file]).put_in(file, file.read_text(encoding="utf-8"))


def test_what_the_package_keeps_is_forgotten():
    asked = []

    @cache
    def kept(name):
        asked.append(name)

    kept.__module__ = "pricing.kept"
    kept("a")
    Running([]).forget()
    kept("a")
    assert asked == ["a", "a"]


def test_the_files_that_are_tried_are_there():
    names = [file.relative_to(ROOT).as_posix() for file in files_of(FILES)]
    assert "pricing/quantities/asking.py" in names
    assert "pricing/quantities/__init__.py" not in names
    assert names[-3:] == list(FILES[1:])


def test_a_function_within_a_function_is_asked_about_where_that_is_reached():
    items = [SimpleNamespace(nodeid=f"{name}::test") for name in ("tests/one.py", "tests/other.py")]
    watch = Watch({}, print)
    watch.reached["tests/one.py"].update({"/f.py:maker", "/f.py:Plan.run"})
    for place in ("/f.py:maker", "/f.py:maker.inner", "/f.py:Plan.run", "/f.py:Plan.run.inner"):
        assert watch.who_may_notice(items, place) == items[:1]
    assert watch.who_may_notice(items, "/f.py:Plan.stop") == []
    assert watch.who_may_notice(items, f"/f.py:{OWN_LINES}") == items


def test_a_run_in_which_little_could_be_put_in_is_no_proof():
    assert is_enough(Counter({"tried": 100, "noticed": 95, "not put in": 3}))
    assert not is_enough(Counter({"tried": 100, "noticed": 94}))
    assert not is_enough(Counter({"tried": 5, "noticed": 5, "not put in": 655}))


def test_functions_are_looked_for_among_all_objects():
    """Of those that are set aside from garbage collection nobody can ask; the tests themselves have set some aside."""
    assert isinstance(unfreeze, BuiltinFunctionType)
