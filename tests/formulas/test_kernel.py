"""The compiled formulas: what numpy gives, whatever is no number, however many lanes; no library of anybody else."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
from datetime import date
from types import SimpleNamespace

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.formulas import kernel as kernels
from pricing.formulas.columns import Columns
from pricing.formulas.engine import Computed, compute, run
from pricing.formulas.graph import build
from pricing.formulas.kernel import library as libraries
from pricing.formulas.kernel import run as kernels_run
from pricing.formulas.kernel.plan import plan
from pricing.formulas.tables import TABLES, of_variants
from pricing.formulas.worlds import Landing, Worlds, under_prices
from pricing.remembered import keep
from pricing.studies.prices_out import at_prices
from pricing.words import (
    both,
    ceil,
    downstream,
    either,
    floor,
    held,
    largest,
    maximum,
    minimum,
    opposite,
    product,
    ratio,
    square,
    total,
    upstream,
    where,
)  # fmt: skip
from tests.folders import alder_wharf

DAY = date(2026, 11, 20)
#: Sums are taken in another order than numpy's: a few units in the last place of what is summed.
CLOSE = 1e-12
VARIED = {table for table in TABLES if of_variants(table)}


@pytest.fixture(scope="module")
def computed() -> Computed:
    """Pieces made of pieces, sizes, a channel abroad; held at other prices than those asked."""
    asked = cost(alder_wharf(), asked_for(DAY, run=25, charge_design=True)).computed
    return at_prices(asked, asked["price"] * 1.1)


@pytest.fixture
def quickly(monkeypatch):
    """What is compiled for one test alone is compiled with less care."""
    monkeypatch.setattr(libraries, "FLAGS", ("-O1", *libraries.FLAGS[1:]))


@pytest.fixture
def compiles_all(kernel, tmp_path, monkeypatch):
    """However little there is to do, it is compiled."""
    monkeypatch.setattr(kernels, "COMPILED_FROM", 1)
    monkeypatch.setenv("TROYTAG_CACHE", str(tmp_path / "cache"))
    kernels._kernel.cache_clear()


def assert_same(found: np.ndarray, wanted: np.ndarray, name: str) -> None:
    np.testing.assert_allclose(found, wanted, rtol=CLOSE, atol=1e-13, equal_nan=True, err_msg=name)


# ---- the whole cost model


def test_a_whole_run_is_what_numpy_gives(computed, compiles_all, quickly, monkeypatch):
    asked = compute(computed.resolved)
    monkeypatch.setattr(kernels, "COMPILED_FROM", 10**12)
    for name, column in compute(computed.resolved).values.items():
        assert asked.values[name].shape == column.shape
        assert_same(asked.values[name], column, name)


@pytest.mark.parametrize("times", [1, 4])
def test_lanes_left_over_and_several_threads_change_nothing(computed, kernel, times, monkeypatch):
    """Blocks are of 64: 35 rows fill none; of four times as many each thread has one, the second 12 rows more."""
    monkeypatch.setattr("pricing.formulas.kernel.run.processors", lambda: 2)
    monkeypatch.setattr("pricing.formulas.kernel.run.ROWS_A_THREAD", 1)
    columns, varied = computed.columns, set(kernel.plan.wanted)
    rows = columns.sizes["variant"] + 1
    given = {
        name: np.concatenate([column] * times) if computed.graph.table_of(name) in VARIED else column
        for name, column in computed.values.items()
        if name not in varied
    }
    keys = {
        key: np.concatenate([column] * times) if len(column) == rows else column for key, column in columns.keys.items()
    }
    found = kernel.over_variants(given, keys, {**columns.sizes, "variant": rows * times - 1})
    one = kernel.over_variants({name: computed.values[name] for name in given}, columns.keys, columns.sizes)
    for name in varied:
        np.testing.assert_array_equal(found[name], np.concatenate([one[name]] * times), err_msg=name)


# ---- worlds


@pytest.mark.parametrize("worlds", [3, 69])
def test_worlds_of_doubt_are_what_numpy_gives(computed, monkeypatch, compiles_all, quickly, worlds):
    """Too few for the lanes, and more than a block."""
    steps = np.nonzero(computed.values["good"] < 1)
    landings = [
        Landing("productive_hours", (), np.array(0)),
        Landing("good", steps, np.where(steps[0] % 2, 1, 2)),
        Landing("quote_price", (np.array([0]),), np.array([3])),
    ]
    chance = np.random.default_rng(5)
    figures = np.column_stack([chance.uniform(*each, worlds) for each in ((60, 130), (0.7, 1), (0.8, 1), (5, 50))])
    wanted, held_ones = ["unit_cost", "price", "list_tax"], ["margin", "unit_cost"]
    by_kernel = Worlds(computed, landings).run(figures, wanted, held_ones)
    monkeypatch.setattr(kernels, "COMPILED_FROM", 10**12)
    on_numpy = Worlds(computed, landings).run(figures, wanted, held_ones)
    assert len(by_kernel["list_tax"]) == 1
    for name, column in on_numpy.items():
        assert by_kernel[name].shape == column.shape
        assert_same(by_kernel[name], column, name)


def test_worlds_of_metal_are_what_numpy_gives(computed, monkeypatch, compiles_all, quickly):
    times = np.random.default_rng(7).uniform(0.3, 3, (65, len(computed["quote_price"])))
    rates = np.tile(computed["exchange_rate"], (65, 1))
    asked = (computed, computed["quote_price"] * times, rates, ["unit_cost", "labour_cost"])
    by_kernel = under_prices(*asked)
    monkeypatch.setattr(kernels, "COMPILED_FROM", 10**12)
    for name, column in under_prices(*asked).items():
        assert by_kernel[name].shape == column.shape
        assert_same(by_kernel[name], column, name)


# ---- the words


def taken(volume_cm3, area_cm2, metal_g) -> "casting":
    """Words of two numbers.

    Unit: 1
    Why: of the test.
    """
    return minimum(volume_cm3, area_cm2) + maximum(volume_cm3, metal_g) * held(area_cm2, 0, metal_g)


def parted(volume_cm3, area_cm2) -> "casting":
    """Words that choose.

    Unit: 1
    Why: of the test.
    """
    return where(
        both(volume_cm3 > 0, opposite(area_cm2 == 0)),
        ratio(volume_cm3, area_cm2),
        where(either(area_cm2 <= volume_cm3, area_cm2), ceil(volume_cm3), floor(area_cm2)),
    )


def running(volume_cm3) -> "casting":
    """Words that run along.

    Unit: 1
    Why: of the test.
    """
    return downstream(volume_cm3) - upstream(volume_cm3)


def in_all_castings(volume_cm3, area_cm2, taken) -> "variant":
    """Words that take an axis away, one inside another.

    Unit: 1
    Why: of the test.
    """
    return total(square(volume_cm3 - total(area_cm2))) + product(area_cm2) + largest(taken) + largest(volume_cm3)


@pytest.mark.parametrize("castings", [0, 1, 3])
def test_every_word_is_numpys_word_whatever_is_no_number(castings, compiles_all, monkeypatch):
    functions = [taken, parted, running, in_all_castings]
    graph = build(functions)
    chance = np.random.default_rng(3)
    odd = np.array([0.0, -0.0, 1.0, -2.5, 1e-13, np.nan, np.inf, -np.inf, 0.5, 7.0])
    shape = (101, castings)
    columns = Columns(
        {name: chance.choice(odd, shape) for name in ("volume_cm3", "area_cm2", "metal_g")},
        {},
        {"variant": 100, "casting": castings},
    )
    wanted = [function.__name__ for function in functions]
    by_kernel = run(columns, graph, wanted)
    monkeypatch.setattr(kernels, "COMPILED_FROM", 10**12)
    for name, column in run(columns, graph, wanted).items():
        np.testing.assert_allclose(by_kernel[name], column, rtol=CLOSE, equal_nan=True, err_msg=name)


def test_a_plan_keeps_only_what_is_read_again(computed):
    """A cost is read by nobody but the quantity beside it in the same loop: it stays a local variable."""
    planned = plan(computed.graph, ["unit_cost"])
    assert "step_cost" not in planned.tiled and "unit_cost" in planned.tiled
    assert sum(len(nest) for nest in planned.nests) > 3 * len(planned.nests)


# ---- which compiler, and whose library

ANSWER = "double answer(void) { return 42; }"


@pytest.fixture
def kept(tmp_path, monkeypatch):
    monkeypatch.setenv("TROYTAG_CACHE", str(tmp_path))
    libraries.library.cache_clear()
    yield tmp_path / "kernels"
    libraries.library.cache_clear()


@pytest.fixture
def compilations(monkeypatch, kernel):
    """How often the compiler ran; what it makes is told apart from what is kept by that alone."""
    count, compiled = [], libraries.compiled
    monkeypatch.setattr(libraries, "compiled", lambda *asked: count.append(asked) or compiled(*asked))
    return count


def answer() -> float:
    libraries.library.cache_clear()
    function = libraries.library(ANSWER, ("-shared", "-fPIC")).answer
    function.restype = libraries.ctypes.c_double
    return function()


def test_a_library_is_compiled_once_and_nobody_else_may_write_to_it(kept, compilations):
    assert [answer(), answer()] == [42, 42]
    assert len(compilations) == 1
    (file,) = kept.iterdir()
    assert stat.S_IMODE(kept.stat().st_mode) & 0o022 == stat.S_IMODE(file.stat().st_mode) & 0o022 == 0


def open_file(folder, file):
    file.chmod(0o666)


def open_folder(folder, file):
    folder.chmod(0o777)


def of_another(folder, file):
    os.chown(file, 12345, -1)


def folder_of_another(folder, file):
    os.chown(folder, 12345, -1)


def a_link(folder, file):
    real = file.rename(folder.parent / "elsewhere")
    file.symlink_to(real)


def damaged(folder, file):
    file.write_bytes(file.read_bytes()[:-100])


@pytest.mark.parametrize("forge", [open_file, open_folder, of_another, folder_of_another, a_link, damaged])
def test_what_somebody_else_may_have_put_there_is_not_loaded(kept, compilations, forge):
    if forge in (of_another, folder_of_another) and os.geteuid() != 0:
        pytest.xfail("only root gives files away")
    answer()
    (file,) = kept.iterdir()
    forge(kept, file)
    assert answer() == 42
    assert len(compilations) == 2


def whole_but_no_library(file):
    keep("kernels", file.name, b"no library at all")


def of_another_source(file):
    """Whole and loadable, but what was kept under another name."""
    libraries.library("double answer(void) { return 43; }", ("-shared", "-fPIC"))
    (other,) = (each for each in file.parent.iterdir() if each != file)
    file.write_bytes(other.read_bytes())


@pytest.mark.parametrize("make", [whole_but_no_library, of_another_source])
def test_what_is_kept_but_is_not_it_is_compiled_again(kept, compilations, make):
    answer()
    (file,) = kept.iterdir()
    make(file)
    before = len(compilations)
    assert [answer(), answer()] == [42, 42]
    assert len(compilations) == before + 1


def test_without_a_compiler_numpy_does_it(computed, monkeypatch, kept):
    monkeypatch.setattr(kernels, "COMPILED_FROM", 1)
    monkeypatch.setenv("TROYTAG_COMPILER", "off")
    kernels._kernel.cache_clear()
    libraries.library.cache_clear()
    found = compute(computed.resolved, wanted=["labour_hours"])
    np.testing.assert_array_equal(found["labour_hours"], computed["labour_hours"])
    assert not kept.exists()


@pytest.mark.parametrize(
    ("command", "said"),
    [
        ("no-such-compiler", "no-such-compiler did not run"),
        (f"{sys.executable} -c raise", "compiled nothing"),
        ("off", "no C compiler was found"),
        ('"cc -O', "did not run"),  # quotes that are not closed
    ],
)
def test_a_compiler_that_does_not_work_is_told(command, said, monkeypatch, kept):
    monkeypatch.setenv("TROYTAG_COMPILER", command)
    with pytest.raises(libraries.NotCompiled, match=said):
        libraries.library(ANSWER)


@pytest.mark.skipif(not hasattr(os, "ST_NOEXEC"), reason="this system does not say so of its drives")
def test_where_nothing_may_be_run_nothing_is_compiled(monkeypatch, kept):
    """A drive of temporary files from which no program starts: numpy does it, at once and each time, and it is told."""
    monkeypatch.setenv("TROYTAG_COMPILER", "cc")  # it is not got to, and need not be there
    monkeypatch.setattr(os, "statvfs", lambda _: SimpleNamespace(f_flag=os.ST_NOEXEC))
    monkeypatch.setattr(subprocess, "run", lambda *_, **__: pytest.fail("it was compiled"))
    with pytest.raises(libraries.NotCompiled, match="nothing may be run that lies in the folder for temporary files"):
        libraries.library(ANSWER)
    assert "numpy computes everything: nothing may be run" in libraries.told(1)
    assert not kept.exists()


def test_a_blank_names_no_compiler(monkeypatch):
    monkeypatch.delenv("TROYTAG_COMPILER", raising=False)
    usual = libraries.compiler()
    monkeypatch.setenv("TROYTAG_COMPILER", "  ")
    assert libraries.compiler() == usual


def test_without_a_folder_for_temporary_files_numpy_does_it(monkeypatch, tmp_path, kernel, kept):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "gone"))
    with pytest.raises(libraries.NotCompiled, match="there is no room for temporary files"):
        libraries.library(ANSWER)
    assert "numpy computes everything: there is no room" in libraries.told(100_000)


def test_where_nothing_may_be_run_from_the_temporary_folder_numpy_does_it(computed, monkeypatch, kernel, kept):
    """A folder mounted so that no program starts from it lets no library be loaded either."""

    def refused(path):
        raise OSError(f"{path}: failed to map segment from shared object")

    monkeypatch.setattr(libraries, "FLAGS", ("-O0", *libraries.FLAGS[1:]))
    monkeypatch.setattr(libraries.ctypes, "CDLL", refused)
    monkeypatch.setattr(kernels, "COMPILED_FROM", 1)
    kernels._kernel.cache_clear()
    found = compute(computed.resolved, wanted=["finished_g"])
    np.testing.assert_array_equal(found["finished_g"], computed["finished_g"])
    assert "numpy computes everything: the library cannot be loaded" in libraries.told(100_000)


def test_a_compiler_that_fails_is_not_asked_twice(computed, monkeypatch, kernel, kept):
    asked = []

    def fails(*_):
        asked.append(1)
        raise libraries.NotCompiled("it fails")

    monkeypatch.setattr(libraries, "compiled", fails)
    kernels._kernel.cache_clear()
    assert [kernels.kernel_for(computed.graph, ["finished_g"], 10**6) for _ in range(3)] == [None] * 3
    assert len(asked) == 1
    kernels._kernel.cache_clear()


@pytest.mark.parametrize(
    ("command", "said"),
    [
        ("off", "numpy computes everything: TROYTAG_COMPILER is off."),
        ("no-such-compiler", "numpy computes everything: no-such-compiler did not run"),
        (None, "From 100,000 variants, or variants × worlds, on, the same formulas run compiled by "),
    ],
)
def test_who_computes_is_told(command, said, monkeypatch, kept, kernel):
    if command:
        monkeypatch.setenv("TROYTAG_COMPILER", command)
    assert said in libraries.told(100_000)


def test_a_row_that_stands_for_all_is_told_by_how_it_lies():
    """2⁴⁰ rows of 3 numbers would be 24 TiB to compare: none of them is looked at, a number or none."""
    looking = object.__new__(kernels_run._Run)
    assert looking.is_alike(np.broadcast_to(np.array([1.0, 2.0, np.nan]), (2**40, 3)))
    assert not looking.is_alike(np.broadcast_to(np.arange(4.0)[:, None], (4, 3)))
