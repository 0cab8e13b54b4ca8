"""How often the nine-in-ten intervals of what the log teaches hold the truth, over many runs.

`python -m tests.benchmarks.bench_learning --runs 20000 --seed 1`
"""

from __future__ import annotations

import argparse

from tests.learning.truths import flasks_failing_whole, learned_again, means, one_fraction, shared_fractions


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--runs", type=int, default=20_000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    runs, seed = asked.runs, asked.seed
    print(f"{runs} runs, share of the truths within 5 % and 95 %:")
    print(f"  fraction good, pieces           {one_fraction(runs, seed):.3f}")
    print(f"  fraction good, flasks whole     {flasks_failing_whole(runs, seed):.3f}")
    print(f"  the same counted as pieces      {flasks_failing_whole(runs, seed, as_pieces=True):.3f}")
    shared, own = shared_fractions(runs // 5, seed)
    print(f"  fraction that products share    {shared:.3f}, each product's own {own:.3f}  (a fifth of the runs)")
    again = learned_again(runs // 10, seed)
    print(f"  learned three times, written    {again:.3f}  (a tenth of the runs)")
    for is_log, name in ((True, "minutes, ratios (log-normal)    "), (False, "melt loss (normal)              ")):
        shared, own = means(runs, seed, is_log)
        print(f"  {name}{shared:.3f}, a product's own {own:.3f}")


if __name__ == "__main__":
    main()
