"""Help says what is typed in words, shows every summary whole, and gives examples that can be typed."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from typing import Any

import pytest
import typer
from typer.core import TyperGroup

from pricing.cli.commands.export import KINDS
from pricing.cli.main import COMMANDS, Commands, command
from pricing.cli.screens.plain_help import EXAMPLES

#: What a program calls its types.
TYPES = re.compile(r"<\w|\b((INTEGER|TEXT|PATH|FLOAT|str|int|float|path)\b|list\[)")


def commands(found: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Every command below this one, by the words that lead to it."""
    context = typer.Context(found)
    for name in found.list_commands(context):
        below, words = found.get_command(context, name), f"{path} {name}".strip()
        yield words, below
        if isinstance(below, TyperGroup):
            yield from commands(below, words)


def test_every_command_has_examples_and_no_example_lacks_its_command():
    assert {path for path, _ in commands(command())} == set(EXAMPLES)
    assert all(f"export {kind}" in EXAMPLES for kind in KINDS)


@pytest.mark.parametrize("path", EXAMPLES)
def test_help_is_in_plain_words(troytag, path):
    first, *rest = path.split()
    folder = ["tests/exact/tin_lane"] if rest and first != "import" else []
    said = troytag(first, *folder, *rest, "--help")
    assert said.code == 0
    assert not TYPES.search(said.out)
    for example in EXAMPLES[path]:
        assert f"    {example}\n" in said.out


@pytest.mark.parametrize("path", EXAMPLES)
def test_an_example_can_be_typed(path):
    """Every option of it is one of the commands that its words lead to, and none is longer than 60 columns show."""
    known = dict(commands(command()))
    for example in EXAMPLES[path]:
        _, *words = shlex.split(example)
        options = {word for word in words if word.startswith("--")}
        leads_to = [each for name, each in known.items() if set(name.split()) <= set(words)]
        has = {option for each in leads_to for parameter in each.params for option in parameter.opts}
        has |= {option for each in leads_to for parameter in each.params for option in parameter.secondary_opts}
        assert leads_to and options <= has, example
        assert len(example) + 4 <= 60, example


def test_a_command_that_is_asked_for_a_thousand_times_still_takes_a_number():
    """The command is made once in a process: what was done to its parameters must not be done on top of itself."""
    group = command()
    context = typer.Context(group)
    for _ in range(1200):
        learn = group.get_command(context, "log").get_command(context, "learn")
    half_life = next(each for each in learn.params if each.name == "half_life")
    assert half_life.process_value(typer.Context(learn), "90") == 90.0


@pytest.mark.parametrize("words", [(), ("export",), ("editions",), ("metal",), ("study",)])
def test_no_summary_is_cut(troytag, words, monkeypatch):
    monkeypatch.setenv("COLUMNS", "60")
    said = troytag(*words, "--help")
    assert "..." not in said.out.replace("ARGS]...", "")


@pytest.mark.parametrize(("group", "kinds"), [("metal", ("add", "list", "pull")), ("study", ("breakeven", "band"))])
def test_a_folder_alone_shows_what_can_be_asked(troytag, group, kinds):
    said = troytag(group, "tests/exact/tin_lane")
    assert said.code == 0 and said.err == ""
    assert "Examples:" in said.out and all(re.search(rf"^  {kind} ", said.out, re.M) for kind in kinds)


@pytest.mark.parametrize("quantity", ["1,5", "1.5", "ten", "-3", "", "9" * 30])
def test_a_quantity_that_is_none_is_told_in_words(troytag, quantity):
    said = troytag("export", "tests/exact/tin_lane", "quote", "--sku", "harbour-set", f"--quantity={quantity}")
    assert (said.code, said.out) == (2, "")
    assert said.err.startswith(f'"{quantity}" is no quantity: write a whole number')


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("page", "shop", "--port", "x"), '--port "x" is no whole number. Write it in digits, as in 12.'),
        (("study", "shop", "sale", "--off", "20 %"), '--off "20 %" is no number. Write 0.2.'),
        (("study", "shop", "sale", "--off", "0,2"), '--off "0,2" is no number. Write 0.2.'),
        (("export", "shop", "tags", "--gap", "wide"), '--gap "wide" is no number. Write it in digits, as in 2.5.'),
        (
            ("export", "shop", "tags", "--copies", "1.5"),
            '--copies "1.5" is no whole number. Write it in digits, as in 12.',
        ),
        (("editions", "sample_catalog", "show", "two"), 'N "two" is no whole number. Write it in digits, as in 12.'),
        (
            ("editions", "sample_catalog", "compare", "1", "b"),
            'M "b" is no whole number. Write it in digits, as in 12.',
        ),
    ],
)
def test_what_is_no_number_is_told_in_one_sentence(troytag, words, told):
    ran = troytag(*words)
    assert (ran.code, ran.out, ran.err) == (2, "", f"{told}\n")


def test_a_number_that_is_left_out_is_told_as_missing(troytag):
    ran = troytag("editions", "sample_catalog", "compare", "1")
    assert ran.code == 2 and "Missing argument 'M'" in ran.err


def test_a_command_is_put_in_plain_words_once_however_often_it_is_asked_for():
    """The command is made once in a process; words put over words at every call would break it after some hundred."""
    group = command()
    context = typer.Context(group)
    before = [parameter.process_value for parameter in group.get_command(context, "page").params]
    after = [parameter.process_value for parameter in group.get_command(context, "page").params]
    assert after == before


def test_a_command_brings_no_other_along():
    """Sixteen commands take longer to make than most of them take to run."""
    made = Commands(name="troytag")
    assert made.list_commands(None) == list(COMMANDS)
    assert made.get_command(None, "words").name == "words" and not made.commands
    assert made.get_command(None, "wrods") is None


def test_what_may_be_meant_is_looked_for_among_all_commands(troytag):
    assert "Did you mean 'reprice'?" in troytag("repriec").err


@pytest.mark.parametrize("words", [("x" * 9_000,), ("--" + "x" * 9_000,), ("study", ".", "x" * 9_000)])
def test_a_command_or_an_option_of_very_many_letters_is_told_back_shortened(words, troytag):
    ran = troytag(*words)
    assert ran.code == 2 and "No such" in ran.err and "xxx…" in ran.err and len(ran.err) < 300
