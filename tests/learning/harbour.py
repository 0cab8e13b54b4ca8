"""A small invented workshop, Harbour Lane, whose log the tests of learning keep: three products, two alloys."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from pathlib import Path

from pricing.batches.adding import write_card
from pricing.batches.model import Batch, Card, Flask, Pieces

AS_OF = date(2026, 11, 20)

FILES = {
    "workshop.toml": """
schema = 1
name = "Harbour Lane"
currency = "GBP"
[labour.bench]
rate = 20.00
[overhead]
per_month = 300.00
productive_hours = 100
[energy]
price_per_kwh = 0.28
[materials.investment]
pack_price = 46.00
pack_size = 22700
unit = "g"
[flasks.small]
diameter_mm = 75
height_mm = 100
material = "investment"
water_per_100 = 40
slurry_density = 1.8
button_cm3 = 1.0
""",
    "alloys.toml": """
[alloys.brass]
name = "Brass"
density = 8.5
composition = { Cu = 0.65, Zn = 0.35 }
priced_by = "quote"
quote = "brass-grain"
melt_loss = 0.03                    # as the supplier says
[alloys.sterling]
name = "Sterling"
density = 10.0
composition = { Ag = 0.925, Cu = 0.075 }
unpriced = ["Cu"]
priced_by = "content"
scrap_payout = 0.9
melt_loss = 0.01
""",
    "processes.toml": """
# Every yield here is a guess of the first evening.
[[processes.cast]]
name = "print"
per = "piece"
labour = "bench"
minutes = 2
[[processes.cast]]
name = "pour"
per = "flask"
takes_metal = "pour"
labour = "bench"
minutes = 20
uses = [{ material = "investment", quantity = "flask" }]
good = 0.95                         # flasks that stand
[[processes.cast]]
name = "file"
per = "piece"
labour = "bench"
minutes = 5                         # by memory
metal_loss = 0.02
good = 0.98
[[processes.cast]]
name = "tumble"
per = "piece"
together = 30
labour = "bench"
minutes = 6
[[processes.cast]]
name = "check"
per = "set"
labour = "bench"
minutes = 1
rework = 0.1
rework_minutes = 2
""",
    "products/clasp.toml": """
sku = "clasp"
name = "Book clasp"
sold_as = "pair"
alloys = ["brass", "sterling"]
process = "cast"
flask = "small"
pieces_per_flask = 20
sprue_ratio = 0.5                   # by eye
castings = [{ name = "clasp", count = 2, volume_cm3 = 0.5 }]
""",
    "products/hook.toml": """
sku = "hook"
name = "Curtain hook"
alloys = ["brass"]
process = "cast"
flask = "small"
pieces_per_flask = 10
sprue_ratio = 0.4
castings = [{ name = "hook", count = 1, volume_cm3 = 1.0 }]
""",
    "products/bell.toml": """
sku = "bell"
name = "Cat bell"
like = "hook"
[steps.file]
minutes = 8
""",
    "channels.toml": """
[channels.shop]
audience = "retail"
policy = { margin = 0.3 }
rounding = { step = 0.10 }
reprice = { keep_within = 0.005 }
""",
    "metal_prices.csv": """date,metal,price,per,currency,source
2026-11-18,brass-grain,9.80,kg,GBP,list
2026-11-18,Ag,30.00,ozt,GBP,fix
""",
}


def write_folder(root: Path) -> Path:
    """The workshop without a log."""
    for file, text in FILES.items():
        (root / file).parent.mkdir(parents=True, exist_ok=True)
        (root / file).write_text(text.lstrip("\n"), encoding="utf-8")
    return root


def flask(
    sku: str,
    alloy: str,
    started: int,
    rejected: Mapping[str, int] | None = None,
    *,
    castings_g: float = 100.0,
    back_g: float = 60.0,
    lost_g: float = 5.0,
    rejected_g: float = 0.0,
    minutes: Mapping[str, float] | None = None,
    **more: object,
) -> Flask:
    """A flask of one product: what was weighed in is what came out and what was lost."""
    spoiled = dict(rejected or {})
    pieces = Pieces(sku=sku, started=started, good=started - sum(spoiled.values()), rejected=spoiled,
                    minutes=dict(minutes or {}), **more)  # fmt: skip
    charge = castings_g + back_g + rejected_g + lost_g
    return Flask(alloy=alloy, fresh_g=charge, back_g=back_g, castings_g=castings_g, rejected_g=rejected_g,
                 pieces=(pieces,))  # fmt: skip


def card(days_ago: int, flasks: Sequence[Flask], minutes: Mapping[str, float] | None = None) -> Card:
    return Card(day=AS_OF - timedelta(days=days_ago), flasks=tuple(flasks), minutes=dict(minutes or {}))


def batch(number: int, days_ago: int, flasks: Sequence[Flask], minutes: Mapping[str, float] | None = None) -> Batch:
    """A batch as the log would hold it, without a disk."""
    return numbered(number, card(days_ago, flasks, minutes))


def numbered(number: int, written: Card) -> Batch:
    return Batch(**dict(written), number=number, recorded="", currency="GBP", form=1, previous=None)


def ten_cards() -> list[Card]:
    """Ten pours of an autumn: two of thirteen flasks lost whole, filing slower than remembered, more brass burnt off.

    Nothing is worked on after a flask is lost.
    """
    cards = []
    for place in range(10):
        lost = place in (3, 8)
        one = flask("clasp", "brass", 20, {"pour": 20} if lost else {"file": 1}, castings_g=0 if lost else 80.75,
                    rejected_g=85.0 if lost else 4.25, back_g=8.5 + 51.0, lost_g=9.0)  # fmt: skip
        more = [flask("hook", "brass", 10, castings_g=85.0, back_g=8.5 + 34.0, lost_g=8.0)] if place % 3 == 0 else []
        pieces = (0 if lost else 20) + 10 * len(more)
        minutes = {"pour": 22.0 * (1 + len(more)), **({"file": 7.0 * pieces} if pieces else {})}
        cards.append(card(100 - 10 * place, [one, *more], minutes))
    return cards


def write_log(root: Path) -> None:
    for each in ten_cards():
        write_card(root, each, "GBP")
