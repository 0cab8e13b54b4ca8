"""The compiled formulas beside the engine, and beside libraries for tables, all in one run and taking turns.

    python tests/benchmarks/bench_kernel.py                    # needs polars, duckdb and pyarrow for their lines

Tables: two flat parts of the cost model (its plain formulas of variants and prices in one channel, which a table
library can say too, made from the same functions); the whole model; many worlds of the sample. Median nanoseconds of
the processor a row with the range of all rounds, then those of the clock. The floor reads every column and writes every
result once.
"""

from __future__ import annotations

import argparse
import ast
import statistics
import sys
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from importlib.util import find_spec
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np  # noqa: E402

from pricing.costing import asked_for, cost  # noqa: E402
from pricing.formulas import kernel as kernels  # noqa: E402
from pricing.formulas.columns import Columns, columns_of  # noqa: E402
from pricing.formulas.engine import run  # noqa: E402
from pricing.formulas.graph import Graph, cost_model  # noqa: E402
from pricing.formulas.kernel import run as running  # noqa: E402
from pricing.formulas.rerun import part_of  # noqa: E402
from pricing.formulas.tables import TABLES  # noqa: E402
from pricing.formulas.worlds import at_times  # noqa: E402
from pricing.words import CONSTANTS, NO_WHOLE, REDUCING, RUNNING, bind  # noqa: E402
from tests.benchmarks.bench_engine import ANSWERS, AS_OF, many  # noqa: E402

#: Answers of the flat part: the first hang on so many columns that reading them is most of the work, of the others
#: three operations come on a column.
MANY_COLUMNS = (
    "fresh_g", "unit_cost", "order_cost", "price", "net_sales", "profit", "margin", "earned_per_hour",
)  # fmt: skip
FEW_COLUMNS = (
    "surplus_g", "melt_lost_g", "cost_before_credits", "unit_cost", "target_price", "net_sales", "binds",
    "is_lifted_to_one_price",
)  # fmt: skip
Work = Callable[[], Mapping[str, np.ndarray] | None]


def on_numpy(work: Work) -> Mapping[str, np.ndarray] | None:
    kernels.COMPILED_FROM = sys.maxsize
    return work()


def compiled(work: Work, threads: int) -> Mapping[str, np.ndarray] | None:
    kernels.COMPILED_FROM = 1
    running.processors = lambda: threads
    return work()


def in_three_ways(work: Work) -> dict[str, Work]:
    return {
        "numpy in blocks": lambda: on_numpy(work),
        "compiled, one thread": lambda: compiled(work, 1),
        "compiled, two threads": lambda: compiled(work, 2),
    }


def compare(peers: Mapping[str, Work], rows: int, rounds: int) -> None:
    """Runs all in turn, holds their answers against the first that has any, and prints a line for each."""
    taken: dict[str, list[tuple[float, float]]] = {name: [] for name in peers}
    expected: Mapping[str, np.ndarray] | None = None
    for turn in range(rounds + 1):  # the first is not counted
        for name, work in peers.items():
            processor, clock = time.process_time(), time.perf_counter()
            found = work()
            if turn:
                taken[name].append((time.process_time() - processor, time.perf_counter() - clock))
            elif found is not None:
                expected = expected or found
                for column, values in expected.items():
                    np.testing.assert_allclose(
                        np.ravel(found[column]), np.ravel(values), rtol=1e-9, atol=1e-9, equal_nan=True, err_msg=name
                    )
            del found
    first = statistics.median(processor for processor, _ in next(iter(taken.values())))
    print(f"{'':34}{'processor, ns a row':>24}{'× first':>9}{'clock':>9}")
    for name, times in taken.items():
        processors = sorted(each / rows * 1e9 for each, _ in times)
        clock = statistics.median(each for _, each in times) / rows * 1e9
        middle = statistics.median(processors)
        spread = f"{middle:.0f} ({processors[0]:.0f} to {processors[-1]:.0f})"
        print(f"{name:34}{spread:>24}{middle * rows / 1e9 / first:9.1f}{clock:9.0f}")


# ---- a flat part of the model, that tables can say


def flat_part(answers: Sequence[str]) -> Graph:
    """The formulas of variants and prices that look at their own row alone, up to the answers."""
    graph = cost_model()
    plain = set()
    for name, quantity in graph.quantities.items():
        calls = {node.func.id for node in ast.walk(quantity.expression()) if isinstance(node, ast.Call)}
        own = not any(need.path.keys or need.path.prefix or need.path.extra for need in quantity.needs)
        if quantity.table in ("variant", "price") and own and not calls & (REDUCING | RUNNING):
            plain.add(name)
    return part_of(graph, answers, plain)


def flat_columns(part: Graph, rows: int) -> Columns:
    """Figures of any size for one channel; what is no figure of a row is one for all."""
    chance = np.random.default_rng(8)
    sizes = {axis: 1 for table in TABLES.values() for axis in table.axes} | {"variant": rows - 1}  # and an idle one
    inputs = {}
    for name, known in part.inputs.items():
        shape = [rows if axis == "variant" else 1 for axis in TABLES[known.table].axes]
        switch = cost_model().unit_of(name) == "switch"
        inputs[name] = np.asarray(chance.random(shape) < 0.5 if switch else chance.uniform(0.05, 0.95, shape))
    return Columns(inputs, {}, sizes)


def levels(part: Graph) -> Iterator[list[str]]:
    """The quantities in turns, each needing only those before."""
    level: dict[str, int] = {}
    for name, quantity in part.quantities.items():
        level[name] = 1 + max((level.get(need.column, 0) for need in quantity.needs), default=0)
    for number in sorted(set(level.values())):
        yield [name for name, own in level.items() if own == number]


def floor_of(part: Graph, columns: Columns, rows: int, answers: Sequence[str]) -> None:
    """What reads fastest of numpy: a sum takes a third longer than the memory does. All results are there at once."""
    for name in part.inputs:
        columns.inputs[name].max()
    results = [np.empty(rows) for _ in answers]
    for result in results:
        result.fill(1.0)


def by_polars(part: Graph, columns: Columns, answers: Sequence[str], engine: str | None = None) -> Work:
    """Level by level: one great select would compute what is shared again and again.

    With an engine ("in-memory", "streaming") it is one lazy question, of which polars may leave out and join what it
    likes.
    """
    import polars

    def where(holds: object, then: object, otherwise: object) -> object:
        return polars.when(holds).then(then).otherwise(otherwise)

    words = {name: float(value) for name, value in CONSTANTS.items()} | {
        "where": where,
        "minimum": lambda a, b: polars.min_horizontal(a, b),
        "maximum": lambda a, b: polars.max_horizontal(a, b),
        "held": lambda x, low, high: polars.min_horizontal(high, polars.max_horizontal(low, x)),
        "ceil": lambda x: x.ceil(),
        "floor": lambda x: x.floor(),
        "square": lambda x: x * x,
        "cube": lambda x: x * x * x,
        "both": lambda a, b: a & b,
        "either": lambda a, b: a | b,
        "opposite": lambda a: ~a,
        "ratio": lambda a, b: where(b.abs() > NO_WHOLE, a / b, polars.lit(float("nan"))),
    }
    frame = polars.DataFrame({name: array.ravel() for name, array in columns.inputs.items() if array.size > 1})
    known = {
        name: polars.lit(array.ravel()[0].item()) if array.size == 1 else polars.col(name)
        for name, array in columns.inputs.items()
    } | {name: polars.col(name) for name in part.quantities}
    steps = [
        [
            bind(quantity.function, words)(*[known[need.column] for need in quantity.needs]).alias(name)
            for name, quantity in ((name, part.quantities[name]) for name in level)
        ]
        for level in levels(part)
    ]

    def work() -> Mapping[str, np.ndarray]:
        done = frame if engine is None else frame.lazy()
        for step in steps:
            done = done.with_columns(step)
        if engine is not None:
            done = done.select(answers).collect(engine=engine)
        return {name: done[name].to_numpy() for name in answers}

    return work


def by_duckdb(part: Graph, columns: Columns, answers: Sequence[str], threads: int) -> Work:
    """One question, each level a table made of the one before."""
    import duckdb
    import pyarrow

    told = "(SELECT * FROM given)"
    for level in levels(part):
        terms = ", ".join(f"{_Sql(part, columns, name).text()} AS {name}" for name in level)
        told = f"(SELECT *, {terms} FROM {told})"
    given = pyarrow.table({name: array.ravel() for name, array in columns.inputs.items() if array.size > 1})
    connection = duckdb.connect(config={"threads": threads})
    connection.register("given", given)
    question = f"SELECT {', '.join(answers)} FROM {told}"

    def work() -> Mapping[str, np.ndarray]:
        return connection.execute(question).fetchnumpy()

    return work


class _Sql:
    def __init__(self, part: Graph, columns: Columns, name: str):
        self.quantity, self.columns = part.quantities[name], columns

    def text(self) -> str:
        return self.print(self.quantity.expression())

    def print(self, node: ast.expr) -> str:
        if isinstance(node, ast.Constant):
            return f"{float(node.value)!r}::DOUBLE"
        if isinstance(node, ast.Name):
            return self.name(node.id)
        if isinstance(node, ast.BinOp):
            sign = {ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/"}[type(node.op)]
            return f"({self.print(node.left)} {sign} {self.print(node.right)})"
        if isinstance(node, ast.Compare):
            sign = {ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "="}[type(node.ops[0])]
            return f"({self.print(node.left)} {sign} {self.print(node.comparators[0])})"
        said = [self.print(each) for each in node.args]
        return {
            "where": "CASE WHEN {0} THEN {1} ELSE {2} END",
            "minimum": "least({0}, {1})",
            "maximum": "greatest({0}, {1})",
            "held": "least({2}, greatest({1}, {0}))",
            "ceil": "ceil({0})",
            "floor": "floor({0})",
            "both": "({0} AND {1})",
            "either": "({0} OR {1})",
            "opposite": "(NOT {0})",
            "ratio": f"CASE WHEN abs({{1}}) > {NO_WHOLE!r} THEN {{0}} / {{1}} ELSE 'NaN'::DOUBLE END",
        }[node.func.id].format(*said)

    def name(self, name: str) -> str:
        if name in CONSTANTS:
            return f"{float(CONSTANTS[name])!r}::DOUBLE"
        column = next(need.column for need in self.quantity.needs if need.parameter == name)
        given = self.columns.inputs.get(column)
        if given is None or given.size > 1:
            return column
        value = given.ravel()[0].item()
        return str(value).upper() if isinstance(value, bool) else f"{value!r}::DOUBLE"


def flat(answers: Sequence[str], rows: int, rounds: int) -> None:
    part = flat_part(answers)
    columns = flat_columns(part, rows)
    nodes = [node for each in part.quantities.values() for node in ast.walk(each.expression())]
    operations = sum(isinstance(node, ast.BinOp | ast.Compare | ast.Call) for node in nodes)
    print(f"\n{operations} operations, {len(part.inputs)} inputs, {len(answers)} results, {rows:,} rows")
    engine = partial(run, columns, part, answers)
    peers = {"floor": lambda: floor_of(part, columns, rows, answers), **in_three_ways(engine)}
    for name, needed, made in (
        ("polars, level by level", ("polars",), by_polars),
        ("polars, lazy", ("polars",), partial(by_polars, engine="in-memory")),
        ("polars, lazy and streaming", ("polars",), partial(by_polars, engine="streaming")),
        ("DuckDB, one thread", ("duckdb", "pyarrow"), partial(by_duckdb, threads=1)),
        ("DuckDB, two threads", ("duckdb", "pyarrow"), partial(by_duckdb, threads=2)),
    ):
        if all(find_spec(each) for each in needed):
            peers[name] = made(part, columns, answers)
        else:
            print(f"without {name}: {' and '.join(needed)} is not installed")
    compare(peers, rows, rounds)


# ---- the whole model, and worlds of it


def whole(rows: int, rounds: int) -> None:
    """The example's variants again and again, their figures a little apart so that conditions differ."""
    base, graph, chance = columns_of(many(1000)), cost_model(), np.random.default_rng(1)

    def grown(table: str, array: np.ndarray) -> np.ndarray:
        if "variant" not in TABLES[table].axes:
            return array
        return np.concatenate([array[np.arange(rows) % 1000], array[-1:]])

    inputs = {name: grown(graph.table_of(name), array) for name, array in base.inputs.items()}
    for name in ("volume_cm3", "step_minutes", "expected_sales", "use_quantity", "asked_margin"):
        inputs[name] = inputs[name] * (1 + 0.2 * (chance.random(inputs[name].shape) - 0.5))
    keys = {key: grown(key[0], array) for key, array in base.keys.items()}
    columns = Columns(inputs, keys, {**base.sizes, "variant": rows})
    print(f"\nthe whole model, {rows:,} variants × {base.sizes['step']} steps × {base.sizes['channel']} channels")
    for told, wanted in (("eight answers", ANSWERS), ("every figure", set(graph.quantities))):
        print(told)
        compare(in_three_ways(partial(run, columns, graph, wanted)), rows, rounds)


def worlds(number: int, rounds: int) -> None:
    computed = cost(Path(__file__).parents[2] / "sample_catalog", asked_for(AS_OF)).computed
    times = np.exp(0.2 * np.random.default_rng(2).standard_normal((number, len(computed["quote_price"]))))
    variants = computed.columns.sizes["variant"]
    print(f"\n{number:,} worlds of metal prices × {variants} variants of the sample: cost, price, margin")
    ask = partial(at_times, computed, times, ("unit_cost", "price", "margin"))
    compare(in_three_ways(ask), number * variants, rounds)


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    reader.add_argument("--rows", type=int, default=1_000_000)
    reader.add_argument("--rounds", type=int, default=7)
    asked = reader.parse_args()
    for answers in (MANY_COLUMNS, FEW_COLUMNS):
        flat(answers, asked.rows, asked.rounds)
    whole(asked.rows // 10, asked.rounds)
    worlds(asked.rows // 100, asked.rounds)


if __name__ == "__main__":
    main()
