"""An invented workshop that is hard to lay out: thirty products with names of sixty letters, five channels, sums."""

from __future__ import annotations

from pathlib import Path

from tests.folder.workshops import write as write_folder

PRODUCTS, LETTERS = 30, 60
CHANNELS = ("stall", "shop", "the old customs house gallery", "trade", "marketplace")
#: Yen without a minor unit, dinar with three digits; what a kilogram of tin costs in each makes prices over a million.
CURRENCIES = {"JPY": 95_000_000, "KWD": 95_000_000}
NOTE = "the pattern maker's own table of nineteen hundred and seven, measured again over three winters at the bench"


def product_name(number: int) -> str:
    """Sixty letters."""
    return f"Hedge sparrow letter rack with a curled bramble tail, no. {number:02d}".ljust(LETTERS, ".")[:LETTERS]


def files_of(currency: str) -> dict[str, str]:
    """The files of the workshop in a currency."""
    audiences = {name: "wholesale" if name == "trade" else "retail" for name in CHANNELS}
    channels = [
        f'[channels."{name}"]\naudience = "{audience}"\npolicy = {{ markup = 0.5 }}\n'
        for name, audience in audiences.items()
    ]
    found = {
        "workshop.toml": f'name = "Fernhollow Castings"\ncurrency = "{currency}"\n'
        "overhead = { per_month = 9000, productive_hours = 90 }\n",
        "alloys.toml": f'[alloys.tin]\nname = "Tin of the old yard, poured by hand"\ndensity = 7.3\n'
        f'composition = {{ Sn = 1.0 }}\npriced_by = "content"\nmelt_loss = 0.01\nsource = "{NOTE}"\n',
        "processes.toml": '[[processes.cast]]\nname = "pour"\nper = "piece"\ntakes_metal = "pour"\n',
        "channels.toml": "".join(channels),
        "metal_prices.csv": "date,metal,price,per,currency,source\n"
        f'2026-11-20,Sn,{CURRENCIES[currency]},kg,{currency},"the yard\'s own sheet, second Friday of the month"\n',
    }
    for number in range(1, PRODUCTS + 1):
        found[f"products/rack-{number:02d}.toml"] = (
            f'sku = "rack-{number:02d}"\nname = "{product_name(number)}"\nalloys = ["tin"]\nprocess = "cast"\n'
            f'sprue_ratio = 0.5\ncastings = [{{ name = "rack", count = 1, volume_cm3 = {number} }}]\n'
        )
    return found


def wide_workshop(into: Path, currency: str) -> Path:
    """The folder of it."""
    return write_folder(into, files_of(currency))
