"""How long the page keeps its maker waiting: first views, a lever under load, ten thousand variants.

    python tests/benchmarks/bench_page.py [--changes]

The folder of 10,000 variants is the sample's products under other names. A lever is moved 200 times by one hand, then
by four at once while two more leaf through the catalogue; milliseconds as a browser would see them, network aside.
With `--changes` instead: of 3,000 products, processor time until the catalogue is laid out, at first and after one file
was changed, beside tomllib alone on the same files in the same run.
"""

from __future__ import annotations

import os
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
import tomllib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from urllib.parse import urlsplit

sys.path.insert(0, str(Path(__file__).parents[2]))

from pricing.page.server.guard import Keys  # noqa: E402
from pricing.page.workspace import Workspace  # noqa: E402
from pricing.resources import sample_catalog  # noqa: E402
from tests.benchmarks.bench_folder import many_products  # noqa: E402
from tests.page.fields import fields_of, with_values  # noqa: E402
from tests.page.served import DAY, Served  # noqa: E402

VARIANTS = 10_000
PRODUCTS, CHANGES = 3000, 7
MOVES = 200
HANDS = 4
LEAFING = 2


def many_variants(root: Path) -> int:
    """The sample grown to so many variants; how many it has."""
    files = sorted((root / "products").glob("*.toml"))
    stated = [(path.read_text(encoding="utf-8"), tomllib.loads(path.read_text(encoding="utf-8"))) for path in files]
    count = sum(len(values["alloys"]) for _, values in stated)
    number = 0
    while count < VARIANTS:
        text, values = stated[number % len(stated)]
        sku = values["sku"]
        copy = text.replace(f'sku = "{sku}"', f'sku = "{sku}-{number}"', 1)
        (root / "products" / f"{sku}-{number}.toml").write_text(copy, encoding="utf-8")
        count, number = count + len(values["alloys"]), number + 1
    return count


class Outside(Served):
    """The page as the command serves it, in a process of its own."""

    def __enter__(self) -> Outside:
        words = [sys.executable, "-m", "pricing.cli.main", "page", str(self.root), "--no-open", "--port", "0",
                 "--as-of", DAY.isoformat()]  # fmt: skip
        where = {**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])}
        self._process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=where)
        address = urlsplit(self._process.stdout.readline().strip())
        self.keys = Keys(address.port)
        welcome = self.get(f"/?{address.query}").headers
        self.cookie, self.room = welcome["set-cookie"].split(";")[0], welcome["location"].rstrip("/")
        return self

    def __exit__(self, *_) -> None:
        self._process.send_signal(signal.SIGINT)
        self._process.wait(10)


def milliseconds(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return 1000 * (time.perf_counter() - start)


def told(name: str, taken: list[float]) -> None:
    ordered = sorted(taken)
    p95 = ordered[min(len(ordered) - 1, round(0.95 * len(ordered)))]
    print(f"{name:46}{statistics.median(taken):9.1f} ms{p95:9.1f} ms")


def views(served: Served, name: str) -> None:
    """The first view of a page that was just started, then the same again, and other orders of it."""

    def read() -> None:
        while "hx-refresh" not in served.get("/reading").headers:
            time.sleep(0.1)
        served.get("/")

    first = milliseconds(lambda: served.get("/"))
    told(f"{name}: first answer", [first])
    told(f"{name}: the catalogue", [first + milliseconds(read)])
    told(f"{name}: the same again", [milliseconds(lambda: served.get("/")) for _ in range(15)])
    part = {"HX_Request": "true"}
    search = "/?query=knob&sort=margin"
    told(f"{name}: search and order", [milliseconds(lambda: served.get(search, **part)) for _ in range(15)])


def levers(served: Served, name: str) -> None:
    """A lever moved by one hand, then by several while others look at the catalogue."""
    items = fields_of(served.get("/design?sku=acorn-knob").text, "design")

    def move(number: int) -> float:
        silver = f"{30 + 20 * number / MOVES:.4f}"
        return milliseconds(lambda: served.post("/design/answer?sku=acorn-knob", with_values(items, metal_Ag=silver)))

    told(f"{name}: a lever, one hand", [move(number) for number in range(MOVES)])
    done = threading.Event()

    def leaf() -> None:
        while not done.is_set():
            served.get("/?sort=cost")

    with ThreadPoolExecutor(HANDS) as hands, ThreadPoolExecutor(LEAFING) as others:
        leafing = [others.submit(leaf) for _ in range(LEAFING)]
        taken = list(hands.map(move, range(MOVES)))
        done.set()
        for each in leafing:
            each.result()
    told(f"{name}: a lever, under load", taken)


def changes() -> None:
    """What the page takes to look at 3,000 products, and again after a change of one file."""
    with tempfile.TemporaryDirectory() as directory:
        root = many_products(Path(directory) / "many", PRODUCTS)
        texts = [path.read_text(encoding="utf-8") for path in root.rglob("*.toml")]
        workspace = Workspace(root, DAY)
        alone = [used(lambda: [tomllib.loads(text) for text in texts])]
        first = used(lambda: workspace._looked_at(0.0).lay_out())
        taken: dict[str, list[float]] = {}
        for number in range(CHANGES):
            path = root / "products" / f"thimble-{41 + 18 * number}.toml"
            path = path if path.exists() else sorted((root / "products").glob("*.toml"))[100 * number]
            text = path.read_text(encoding="utf-8")
            for kind, other in (
                ("a product", text.replace("\nname = ", f"\n# {number}\nname = ", 1)),
                ("a price of metal", None),
            ):
                if other is None:
                    path, other = root / "metal_prices.csv", (root / "metal_prices.csv").read_text(encoding="utf-8")
                    other += f"2026-11-{number + 10},Ag,{30 + number}.5,ozt,GBP,bench\n"
                path.write_text(other, encoding="utf-8")
                taken.setdefault(kind, []).append(used(lambda: workspace._looked_at(0.0).lay_out()))
            alone.append(used(lambda: [tomllib.loads(text) for text in texts]))
        base = statistics.median(alone)
        print(f"{'tomllib alone':46}{base:9.2f} s")
        print(f"{'first view laid out':46}{first:9.2f} s{first / base:8.1f} x")
        for kind, seconds in taken.items():
            print(f"{f'after {kind} changed':46}{statistics.median(seconds):9.2f} s")


def used(work: Callable[[], object]) -> float:
    start = time.process_time()
    work()
    return time.process_time() - start


def main() -> None:
    if "--changes" in sys.argv:
        changes()
        return
    print(f"{'':46}{'median':>12}{'95 %':>12}")
    with tempfile.TemporaryDirectory() as directory:
        for name in ("sample", "10,000 variants"):
            root = Path(shutil.copytree(sample_catalog(), Path(directory) / name.replace(" ", "-").replace(",", "")))
            if name != "sample":
                many_variants(root)
            with Outside(root) as served:
                views(served, name)
                levers(served, name)


if __name__ == "__main__":
    main()
