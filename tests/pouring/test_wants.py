"""What is wanted, as it is written; what is off is told with its line."""

from __future__ import annotations

from datetime import date

import pytest

from pricing.errors import Faults, UsageFault
from pricing.pouring.wants import Want, orders_of_file, want_of, wants_of_file


def test_a_want_on_the_command_line():
    assert want_of("band:gold-9ct:L½=3") == Want("band", "gold-9ct", "L½", 3)
    assert want_of("thimble=12") == Want("thimble", "", "", 12)


@pytest.mark.parametrize("text", ["thimble", "=3", "a:b:c:d=3", "thimble=0", "thimble=1.5", "thimble=-1", "thimble=x"])
def test_what_is_no_want_is_told(text):
    with pytest.raises(UsageFault, match="is no want|is no quantity"):
        want_of(text)


def test_wants_and_orders_of_a_file(tmp_path):
    file = tmp_path / "wants.csv"
    file.write_text("\ufeffSKU;alloy;quantity\nthimble;sterling;12\n\nband;;3\n", encoding="utf-8")
    assert wants_of_file(file) == [Want("thimble", "sterling", "", 12), Want("band", "", "", 3)]
    file.write_text("order,for,sku,size,quantity,due,stone\n27,Tin Lane,band,M,1,2026-12-01,garnet\n", encoding="utf-8")
    (order,) = orders_of_file(file)
    assert (order.number, order.customer, order.want) == ("27", "Tin Lane", Want("band", "", "M", 1))
    assert (order.due, order.stone, order.note) == (date(2026, 12, 1), "garnet", "")


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "wants.csv it is empty. Begin it with the line sku,alloy,size,quantity."),
        ("sku,quantity\n", "wants.csv nothing is wanted in it."),
        ("sku,alloy\nthimble,sterling\n", "wants.csv:1 the column quantity is missing."),
        ("sku,quantity,aloy\nthimble,1,sterling\n", 'wants.csv:1 no column "aloy". Did you mean "alloy"?'),
        ("sku,quantity\nthimble,many\n", 'wants.csv:2 "thimble": "many" is no quantity.'),
        ("sku,quantity\n,3\n", "wants.csv:2 sku is empty."),
        ("sku,quantity,sku\nthimble,3,a\n", "wants.csv:1 the column sku stands twice."),
        ("sku,quantity\nthimble,3,4\n", "wants.csv:2 3 fields, and 2 columns."),
        ('sku,quantity\n"thimble,3\n', "wants.csv it is no CSV"),
    ],
)
def test_a_file_that_is_off_is_told_with_its_line(tmp_path, text, told):
    file = tmp_path / "wants.csv"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(Faults) as found:
        wants_of_file(file)
    assert told in str(found.value)


def test_a_day_that_is_none_and_a_file_that_is_not_there(tmp_path):
    file = tmp_path / "orders.csv"
    with pytest.raises(Faults, match="there is no such file"):
        orders_of_file(file)
    file.write_bytes(b"sku,quantity\n\xff,1\n")
    with pytest.raises(Faults, match="no text in UTF-8"):
        orders_of_file(file)
    file.write_text("sku,quantity,due\nband,1,soon\nband,0,\n", encoding="utf-8")
    with pytest.raises(Faults) as found:
        orders_of_file(file)
    assert 'orders.csv:2 "soon" is no date' in str(found.value) and "orders.csv:3" in str(found.value)
