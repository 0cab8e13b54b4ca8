"""Pulling from within a program that runs an event loop of its own."""

from __future__ import annotations

import asyncio
import shutil
from concurrent.futures import ThreadPoolExecutor
from datetime import date

from pricing.folder.prices.read import read_metal_prices
from pricing.metal.pull import pull
from tests.folders import tin_lane


def test_a_running_event_loop_is_no_hindrance(tmp_path):
    lane = shutil.copytree(tin_lane(), tmp_path / "lane")
    (lane / "today.csv").write_text("metal,price\nAg,49.60\n", encoding="utf-8")
    with (lane / "workshop.toml").open("a", encoding="utf-8") as file:
        file.write(
            '\n[sources.silver]\nfile = "today.csv"\nmetal = "Ag"\nper = "ozt"\ncurrency = "USD"\n'
            'csv_column = "price"\n'
        )

    async def within():
        return pull(read_metal_prices(lane), ["silver"], date(2026, 11, 20))

    with ThreadPoolExecutor(1) as apart:
        (pulled,) = apart.submit(asyncio.run, within()).result()
    assert pulled.quote is not None
    assert pulled.quote.price == 49.60
