"""Hundreds of reads at once while an edition is published: each sees one state of the folder, whole."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor
from datetime import date

import pytest

from pricing.costing import asked_for, cost
from pricing.editions.chain import chain_faults, numbers
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.repricing.reprice import reprice
from tests.page.test_repricing import say

pytestmark = pytest.mark.slow

READS = 300
WORKERS = 40


def test_reads_while_a_publish_goes_on(served):
    publish_prices(reprice(cost(served.root, asked_for(date(2026, 6, 1))), None))
    answer = say(served, "accept")
    mark = answer.value_of("mark")
    paths = ("/", "/reprice", "/?query=knob", "/static/page.css", "/metal/moves")

    def read(number: int) -> tuple[int, str]:
        path = paths[number % len(paths)]
        if path == "/metal/moves":
            fields = {"metal": "Ag", "price": "40", "per": "ozt", "currency": "USD", "date": "2026-11-20"}
            found = served.post(path, fields)
        else:
            found = served.get(path)
        told = re.search(r"edition (\d) of [\d-]+ in force|Edition (\d) of [\d-]+ is in force", found.words)
        return found.status, (told[1] or told[2]) if told else ""

    with ThreadPoolExecutor(WORKERS) as pool:
        reads = [pool.submit(read, number) for number in range(READS // 2)]
        publishing = pool.submit(served.post, "/reprice/publish", {"mark": mark, "sure": "yes"})
        reads += [pool.submit(read, number) for number in range(READS // 2, READS)]
        found = [each.result() for each in reads]
    assert publishing.result().status == 303
    assert {status for status, _ in found} == {200}
    assert {edition for _, edition in found if edition} <= {"1", "2"}
    assert served.get("/").words.count("edition 2 of 2026-11-20 in force") == 1
    assert numbers(served.root) == [1, 2] and chain_faults(served.root) == []
