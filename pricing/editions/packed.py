"""What an edition says in the form that it is kept in now, and back again: every number once, the rest by its place.

Thousands of figures of a variant are a few dozen different numbers: a step that every piece of a product has, a price
of which net, tax and fees are told. So each number stands once, in the order in which it first comes up, and a
column of figures is a column of places among them; both are deflated, as a text of base64. That is a sixteenth of the
list of figures by name which it replaces, and a column that nobody asks for is never unpacked. Prices, quotes and
formulas, which people compare line by line, stay in words; a variant's prices are one line.

All floats come back to the very same bits. Nothing that is unpacked can grow beyond what is told beside it.
"""

from __future__ import annotations

import base64
import json
import math
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from itertools import chain, repeat
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

Places = npt.NDArray[np.int32]
#: A price that was published: sku, alloy, channel, price, the day since which it stands, the edition it was set in.
Published = tuple[str, str, str, float, str, int]

#: What this form is called in the file; 1 has everything in words.
FORM = 2
#: A packed column has at most so many numbers, all figures together at most so many, and packed words at most so many
#: bytes: far beyond any workshop.
MOST_NUMBERS = 2**24
MOST_IN_ALL = 2**26
MOST_WORDS = 2**28
#: How numbers that JSON does not know are written in words.
WORDS = MappingProxyType({"inf": math.inf, "-inf": -math.inf})


# ---- from what it says to what is kept


def packed(content: Mapping[str, Any]) -> dict[str, Any]:
    """What is kept of an edition that says this: its figures, inputs, variants and prices packed, the rest as it is."""
    figures = {name: array_of(figure) for name, figure in content["figures"].items()}
    shapes = _Shapes(content["variants"])
    alike: dict[tuple[tuple[int, ...], bytes], str] = {}
    same = {name: alike.setdefault((figure.shape, figure.tobytes()), name) for name, figure in figures.items()}
    own = [name for name, first in same.items() if first == name]
    places, numbers = _each_once([*(figures[name].reshape(-1) for name in own), shapes.floats])
    columns = {name: _packed_places(column) for name, column in zip(own, places, strict=False)}
    return {
        **content,
        "numbers": {"count": len(numbers), "packed": _text(_planes(numbers.view("<i8")))},
        "figures": {
            name: {"shape": list(figures[name].shape), "packed": columns[name]} if first == name else {"as": first}
            for name, first in same.items()
        },
        "inputs": _packed_words(content["inputs"]),
        "prices": _packed_prices(content["prices"]),
        "variants": shapes.packed(places[-1]),
    }


def array_of(figure: Any) -> npt.NDArray[np.float64]:
    """A figure as an array, also where it is lists in which None is what is undefined."""
    return np.asarray(figure if isinstance(figure, np.ndarray) else _unlisted(figure), dtype="<f8", order="C")


def _unlisted(value: Any) -> Any:
    if isinstance(value, list):
        return [_unlisted(each) for each in value]
    return math.nan if value is None else WORDS.get(value, value) if isinstance(value, str) else value


def _each_once(columns: Sequence[npt.NDArray[np.float64]]) -> tuple[list[Places], npt.NDArray[np.float64]]:
    """Places of all numbers of some columns, and these numbers: each once, in the order in which they come up."""
    import pandas

    together = np.concatenate([np.zeros(0), *columns]).astype("<f8").view("<i8")  # by their bits: NaN is one, -0 no 0
    places, once = pandas.factorize(together)
    ends = np.cumsum([len(column) for column in columns])[:-1]
    return [part.astype("<i4") for part in np.split(places, ends)], np.asarray(once, dtype="<i8").view("<f8")


def _packed_places(places: Places) -> str:
    """Places as steps from one to the next: numbers come up in order, so most steps are 0 or 1."""
    return _text(_planes(np.diff(places, prepend=np.int32(0)).astype("<i4")))


def _planes(array: npt.NDArray[Any]) -> bytes:
    """First bytes of all numbers, then their second ones: like lies beside like."""
    return array.view(np.uint8).reshape(-1, array.itemsize).T.tobytes()


def _text(content: bytes) -> str:
    return base64.b64encode(zlib.compress(content)).decode("ascii")


def _packed_words(content: Any) -> dict[str, Any]:
    words = json.dumps(content, ensure_ascii=False, separators=(",", ":"), allow_nan=False).encode()
    return {"bytes": len(words), "packed": _text(words)}


def _packed_prices(prices: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """A line a variant: sku, alloy, then of each of its prices channel, price, asked, and what was decided."""
    channels: dict[str, int] = {}
    decided: dict[tuple[Any, ...], int] = {}
    lines: list[list[Any]] = []
    for each in prices:
        if not lines or lines[-1][:2] != [each["sku"], each["alloy"]]:
            lines.append([each["sku"], each["alloy"]])
        decision = (each["set_on"], each["set_in"], each["verdict"], each["reason"])
        channel = channels.setdefault(each["channel"], len(channels))
        lines[-1] += [channel, each["price"], each["asked"], decided.setdefault(decision, len(decided))]
    return {"channels": list(channels), "decided": [list(each) for each in decided], "lines": lines}


class _Shapes:
    """Records taken apart: which values each has where (its shape), and the values of all of one shape in columns."""

    def __init__(self, records: Sequence[Mapping[str, Any]]):
        self.words: dict[tuple[type, Any], int] = {}
        known: dict[str, int] = {}
        self.of: list[int] = []
        lists: list[list[list[Any]]] = []
        for record in records:
            leaves: list[Any] = []
            shape = known.setdefault(json.dumps(_shape(record, leaves)), len(known))
            if shape == len(lists):
                lists.append([])
            lists[shape].append(leaves)
            self.of.append(shape)
        self.shapes = [json.loads(shape) for shape in known]
        self.columns = [list(zip(*rows, strict=True)) for rows in lists]
        self.floats = np.array([value for value in self._values() if type(value) is float], dtype="<f8")

    def _values(self) -> Iterator[Any]:
        return (value for columns in self.columns for column in columns for value in column)

    def packed(self, places: Places) -> dict[str, Any]:
        """The records, their floats by these places; of other values the place is below 0: -1 for the first word."""
        floats, found, begin = iter(places.tolist()), [], 0
        for value in self._values():
            if type(value) is float:
                found.append(next(floats))
            else:
                found.append(-1 - self.words.setdefault((type(value), value), len(self.words)))
        packed_columns = []
        for columns in self.columns:
            end = begin + sum(map(len, columns))
            packed_columns.append(_packed_places(np.array(found[begin:end], dtype="<i4")))
            begin = end
        return {
            "count": len(self.of),
            "of": _packed_places(np.array(self.of, dtype="<i4")),
            "shapes": self.shapes,
            "columns": packed_columns,
            "words": [value for _, value in self.words],
        }


def _shape(value: Any, leaves: list[Any]) -> Any:
    """What is left of a value where its leaves are taken out."""
    if isinstance(value, Mapping):
        return {name: _shape(value[name], leaves) for name in sorted(value)}  # in the order in which they are written
    if isinstance(value, list):
        return [_shape(each, leaves) for each in value]
    leaves.append(value)
    return None


# ---- from what is kept to what it says


class Unpacked(Mapping[str, Any]):
    """What a packed edition says, as one in words says it; what is packed is unpacked when it is first asked for.

    `sensible` is given the key and tells what goes wrong meanwhile: what is kept here may be nonsense.
    """

    def __init__(self, kept: Mapping[str, Any], sensible: Callable[[str], AbstractContextManager[None]]):
        self._kept, self._sensible = kept, sensible
        self._numbers: npt.NDArray[np.float64] | None = None
        self._found: dict[str, Any] = {}

    def __iter__(self) -> Iterator[str]:
        return (key for key in self._kept if key != "numbers")

    def __len__(self) -> int:
        return len(self._kept) - 1

    def __getitem__(self, key: str) -> Any:
        unpacking = {
            "figures": self._figures,
            "inputs": lambda: _words(self._kept["inputs"]),
            "prices": lambda: prices_of(self._kept["prices"]),
            "variants": self._variants,
        }.get(key)
        if key == "numbers":
            raise KeyError(key)
        if unpacking is None:
            return self._kept[key]
        if key not in self._found:
            with self._sensible(key):
                self._found[key] = unpacking()
        return self._found[key]

    def published(self) -> list[Published]:
        """Every price, since when it stands and in which edition it was set, without all else that `prices` tell."""
        with self._sensible("prices"):
            columns, decided = price_columns(self._kept["prices"]), self._kept["prices"]["decided"]
            set_on, set_in = ([decided[place][at] for place in columns.decision] for at in (0, 1))
            spots = columns.sku, columns.alloy, columns.channel
            return list(zip(*spots, columns.price, set_on, set_in, strict=True))

    def _all_numbers(self) -> npt.NDArray[np.float64]:
        if self._numbers is None:
            kept = self._kept["numbers"]
            self._numbers = _from_planes(kept["packed"], kept["count"], "<i8").view("<f8")
        return self._numbers

    def _figures(self) -> dict[str, npt.NDArray[np.float64]]:
        numbers, found = self._all_numbers(), {}
        own = {name: kept for name, kept in self._kept["figures"].items() if "as" not in kept}
        if sum(abs(math.prod(kept["shape"])) for kept in own.values()) > MOST_IN_ALL:
            raise ValueError("so many figures are none of an edition")
        for name, kept in own.items():
            shape = tuple(kept["shape"])
            found[name] = numbers[_places(kept["packed"], math.prod(shape), 0, len(numbers))].reshape(shape)
        return {name: found[kept.get("as", name)] for name, kept in self._kept["figures"].items()}

    def _variants(self) -> list[dict[str, Any]]:
        records = records_of(self._kept["variants"], self._all_numbers())
        if not all(isinstance(each["sku"], str) and isinstance(each["alloy"], str) for each in records):
            raise TypeError("a variant has a sku and an alloy")
        return records


class PriceColumns(NamedTuple):
    """All prices in their order: what stands in each of them, and at which place what was decided of it stands."""

    sku: list[str]
    alloy: list[str]
    channel: list[str]
    price: list[float]
    asked: list[float | None]
    decision: list[int]


def price_columns(kept: Mapping[str, Any]) -> PriceColumns:
    """The prices of a packed edition. Raises one of many errors where its lines make no sense."""
    channels, lines = kept["channels"], kept["lines"]
    lengths = [len(line) - 2 for line in lines]
    if any(length < 0 or length % 4 for length in lengths):
        raise ValueError("a line has a sku, an alloy and four words for each price")
    told = list(chain.from_iterable(line[2:] for line in lines))
    places, decisions = told[::4], told[3::4]
    if not {*map(type, places), *map(type, decisions)} <= {int}:
        raise TypeError("a place is a number")
    for named, there in ((places, len(channels)), (decisions, len(kept["decided"]))):
        if named and not 0 <= min(named) <= max(named) < there:
            raise ValueError("there is no such place")
    counts = [length // 4 for length in lengths]
    sku, alloy = (list(chain.from_iterable(map(repeat, (line[at] for line in lines), counts))) for at in (0, 1))
    return PriceColumns(sku, alloy, [channels[place] for place in places], told[1::4], told[2::4], decisions)


def prices_of(kept: Mapping[str, Any]) -> list[dict[str, Any]]:
    """All prices in words, in their order."""
    columns = price_columns(kept)
    decided = map(kept["decided"].__getitem__, columns.decision)
    return [
        {
            "alloy": alloy,
            "asked": asked,
            "channel": channel,
            "price": price,
            "reason": reason,
            "set_in": set_in,
            "set_on": set_on,
            "sku": sku,
            "verdict": verdict,
        }
        for sku, alloy, channel, price, asked, (set_on, set_in, verdict, reason) in zip(
            *columns[:-1], decided, strict=True
        )
    ]


def records_of(kept: Mapping[str, Any], numbers: npt.NDArray[np.float64]) -> list[dict[str, Any]]:
    """The records that were taken apart."""
    words, shapes = kept["words"], kept["shapes"]
    values = [*numbers.tolist(), *reversed(words)]  # a place below 0 counts from the end
    of = _places(kept["of"], kept["count"], 0, len(shapes))
    rows: list[Iterator[Iterator[Any]]] = []
    for number, (shape, column) in enumerate(zip(shapes, kept["columns"], strict=True)):
        records = int((of == number).sum())
        leaves = _leaves(shape)
        places = _places(column, records * leaves, -len(words), len(numbers)).reshape(leaves, records)
        rows.append(iter([map(values.__getitem__, row) for row in places.T.tolist()]))
    return [_filled(shapes[shape], next(rows[shape])) for shape in of.tolist()]


def _leaves(shape: Any) -> int:
    if isinstance(shape, dict):
        return sum(map(_leaves, shape.values()))
    return sum(map(_leaves, shape)) if isinstance(shape, list) else 1


def _filled(shape: Any, leaves: Iterator[Any]) -> Any:
    if isinstance(shape, dict):
        return {name: next(leaves) if each is None else _filled(each, leaves) for name, each in shape.items()}
    return [_filled(each, leaves) for each in shape] if isinstance(shape, list) else next(leaves)


def _places(text: str, count: int, least: int, end: int) -> Places:
    """Packed places, each of them there. Raises ValueError where they make no sense."""
    places: Places = np.cumsum(_from_planes(text, count, "<i4"), dtype="<i4")
    if count and not (least <= places.min() and places.max() < end):
        raise ValueError("there is no such place")
    return places


def _from_planes(text: str, count: int, kind: str) -> npt.NDArray[Any]:
    """So many numbers of a kind. Raises ValueError where there are more or fewer."""
    if not 0 <= count <= MOST_NUMBERS:
        raise ValueError("so many numbers are none of an edition")
    width = np.dtype(kind).itemsize
    planes = np.frombuffer(_bytes(text, count * width), dtype=np.uint8).reshape(width, count)
    return np.ascontiguousarray(planes.T).reshape(-1).view(kind)


def _words(kept: Mapping[str, Any]) -> Any:
    from pydantic_core import from_json

    if not 0 <= kept["bytes"] <= MOST_WORDS:
        raise ValueError("so many words are none of an edition")
    return from_json(_bytes(kept["packed"], kept["bytes"]))


def _bytes(text: str, length: int) -> bytes:
    """What was packed into a text, of just this length; no more than that is ever unpacked."""
    inflating = zlib.decompressobj()
    try:
        content = inflating.decompress(base64.b64decode(text, validate=True), length + 1)
    except zlib.error:
        raise ValueError("this cannot be unpacked") from None
    if len(content) != length or not inflating.eof:
        raise ValueError("this is longer or shorter than is told")
    return content
