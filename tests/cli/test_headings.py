"""Nothing of a table is cut at any width, and `words` knows every heading."""

from __future__ import annotations

import io

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.console import Console

from pricing.cli.screens import screen
from pricing.errors import UsageFault
from pricing.folder.keys_in_words import entries_of, keys
from pricing.formulas.glossary import glossary
from pricing.formulas.graph import cost_model
from pricing.formulas.trade_words import trade_words
from pricing.records import COST_LINES
from pricing.resources import sample_catalog
from tests.folders import small_sample

AS_OF = ("--as-of", "2026-11-20")
FIGURE = st.from_regex(r"[0-9]{1,3}(,[0-9]{3}){0,2}\.[0-9]{2}", fullmatch=True)
HEAD = st.from_regex(r"[a-z]{2,9}", fullmatch=True)


@settings(max_examples=60, deadline=None)
@given(heads=st.lists(HEAD, min_size=2, max_size=12), data=st.data(), width=st.integers(40, 200))
def test_every_figure_stands_whole_at_every_width(heads, data, width):
    rows = data.draw(st.lists(st.tuples(HEAD, *[FIGURE] * (len(heads) - 1)), min_size=1, max_size=4))
    console = Console(file=io.StringIO(), width=width, color_system=None)
    console.print(screen.table(heads, rows))
    said = console.file.getvalue()
    assert all(len(line.rstrip()) <= width for line in said.splitlines())
    words = said.split()
    for row in rows:
        for figure in row[1:]:
            assert words.count(figure) >= sum(other.count(figure) for other in rows)


def test_a_table_that_fits_is_one(capsys, monkeypatch):
    monkeypatch.setenv("COLUMNS", "60")
    screen.out().print(screen.table(("", "one", "two"), [("a", "1", "2")]))
    assert capsys.readouterr().out == "   one  two\na    1    2\n"


def test_a_head_stays_with_the_column_without_one(capsys, monkeypatch):
    """What a price is and how far it is away are two columns under one head."""
    monkeypatch.setenv("COLUMNS", "26")
    screen.out().print(
        screen.table(("", "left at", "", "gone at", ""), [("a", "1,000.00", "+10 %", "2,000.00", "+9 %")])
    )
    first, second = capsys.readouterr().out.split("\n\n")
    assert first.split() == ["left", "at", "a", "1,000.00", "+10", "%"]
    assert second.split() == ["gone", "at", "a", "2,000.00", "+9", "%"]


@pytest.fixture
def headings(monkeypatch) -> set[str]:
    """The heads of all tables that are made."""
    seen: set[str] = set()
    made = screen.table

    def table(heads, *rest, **others):
        seen.update(heads)
        return made(heads, *rest, **others)

    monkeypatch.setattr(screen, "table", table)
    return seen


def test_words_knows_every_heading(troytag, tmp_path, monkeypatch, headings):
    monkeypatch.chdir(tmp_path)
    shop, whole = small_sample(tmp_path / "shop"), sample_catalog()
    asked = [
        ("cost", shop, *AS_OF, "--asked", "--sku", "thimble"),
        ("cost", shop, *AS_OF, "--sku", "thimble", "--steps"),
        ("reprice", shop, *AS_OF, "--publish", "--yes"),
        ("cost", shop, *AS_OF, "--sku", "thimble"),
        ("cost", shop, *AS_OF),
        ("reprice", shop, *AS_OF, "--all"),
        ("editions", shop),
        ("editions", shop, "show"),
        ("metal", shop, "list", *AS_OF),
        ("study", shop, "breakeven", *AS_OF),
        ("study", shop, "breakeven", *AS_OF, "--sku", "beetle-pin"),
        ("study", shop, "band", *AS_OF, "--channel", "shop"),
        ("study", shop, "sale", *AS_OF, "--off", "0.2", "--sku", "thimble"),
        ("study", shop, "alloy", *AS_OF, "--sku", "thimble", "--channel", "shop"),
        ("study", shop, "quantity", *AS_OF, "--sku", "thimble", "--alloy", "sterling", "--up-to", "30"),
        ("study", shop, "mix", *AS_OF, "--each", "2", "--cash", "90", "--shares"),
        ("study", shop, "year", *AS_OF, "--months", "3"),
        ("study", shop, "doubt", *AS_OF, "--sku", "thimble", "--draws", "16"),
        ("study", shop, "week", *AS_OF),
        ("cost", shop, *AS_OF, "--sku", "thimble", "--sure"),
        ("measure", shop / "meshes" / "thimble.stl", "--folder", shop, "--process", "mould-and-wax"),
        ("export", shop, "quote", "--sku", "thimble", *AS_OF, "--no-pictures"),
        ("pour", shop, *AS_OF, "--want", "thimble:sterling=2", "--mix", "sterling"),
        ("pour", shop, *AS_OF, "--want", "escutcheon:sterling=2"),
        ("cost", shop, *AS_OF, "--sku", "cloak-clasp", "--alloy", "sterling", "--alloy", "yellow-brass"),
        ("stock", shop, "add", "bought", "sterling", "300", "--paid", "290", "--date", "2026-11-19"),
        (
            "log",
            shop,
            "add",
            "--alloy",
            "sterling",
            "--fresh",
            "200",
            "--back",
            "80",
            "--castings",
            "118",
            "--date",
            "2026-11-20",
            "--piece",
            "thimble=8",
            "--minutes",
            "pour=9",
            "--yes",
        ),
        ("stock", shop),
        ("stock", shop, "list"),
        ("stock", shop, "margins", *AS_OF),
        ("log", shop, "list"),
        ("log", shop, "show", "1"),
        ("log", shop, "variance", "--to", "2026-11-20"),
        ("cost", whole, *AS_OF, "--sku", "signet-ring"),  # in sizes
        ("cost", whole, *AS_OF, "--sku", "hare-pendant"),  # of pieces
    ]
    for words in asked:
        ran = troytag(*words)
        assert ran.code == 0, (words, ran.err)
    graph = cost_model()
    names = {"GBP", "shop", "marketplace", "trade", "stall", "abroad", "sterling", "yellow-brass", "g", "g/cm3", ""}
    names |= {"Ag", "Cu"}
    units = (", g", ", GBP", ", USD", ", %")
    unknown = set()
    for head in headings:
        if head.endswith(" points"):  # a column for each band that was tried
            head = "points"
        word = next((head.removesuffix(unit) for unit in units if head.endswith(unit)), head).strip()
        if word.endswith(" margin") and word.split()[0] in names:  # of each channel, one size a line
            word = "margin"
        if word in names:
            continue
        try:
            assert entries_of(graph, word)
        except UsageFault:
            unknown.add(word)
    assert sorted(unknown) == []


@pytest.mark.parametrize("word", ["ladder", "edition", "variant", "set", "band", "lemel", "an hour", "× metal",
                                  "decided by", "any", "points", "bought-in work"])  # fmt: skip
def test_words_of_the_trade_are_known(troytag, word):
    said = troytag("words", *word.split())
    assert said.code == 0 and word in said.out


def test_every_word_of_the_trade_leads_on(troytag):
    """To a quantity or a key that `words` knows; whatever the case it is written in."""
    graph = cost_model()
    known = {each.name for each in (*glossary(graph), *keys())}
    for word, found in trade_words().items():
        assert word == word.lower() and found.see and set(found.see) <= known, word
    said = troytag("words", "Vermeil")
    assert said.code == 0 and "Vermeil  (a word of the trade)" in said.out and "Ask for: microns," in said.out
    assert 'Did you mean "hallmark"?' in troytag("words", "halmark").err


@pytest.mark.parametrize("word", COST_LINES.values())
def test_every_line_of_a_cost_is_known(word):
    assert entries_of(cost_model(), word)
