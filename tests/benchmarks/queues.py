"""Queues of invented submissions as long as one likes: varied, and one in a hundred broken in one of fifty ways.

They are the shipped and the lawful houses of the tests and those with planted mistakes, each with names, permits,
readings and lengths drawn anew, some without a fact or a list. The same seed gives the same bytes.
"""

from __future__ import annotations

import gzip
import json
import random
from collections.abc import Callable, Iterable, Iterator, Mapping
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Any

import pyarrow as pa
from pyarrow import parquet

from submissions import HOUSES, house, queue

House = dict[str, Any]

LEFT_OUT = ("service", "readings", "observations", "documents", "grounding", "communications", "monitoring")
"""What a submission may lack as a whole; of others a fact of the service is left out."""

DRAWN = ("length", "distance", "line_to_line", "frequency", "attachment_spacing", "resistance", "output_power")
"""Fields of numbers that are drawn anew."""


def submissions(count: int, seed: int = 1) -> Iterator[bytes]:
    """So many submissions as JSON texts; every hundredth is none that can be used."""
    draw, ways = random.Random(seed), list(BROKEN)
    texts = _bases()
    for i in range(count):
        one: House = json.loads(draw.choice(texts))
        one.setdefault("project", {})
        one["project"] |= {"name": f"House {i} (invented)", "permit": f"P-{i}",
                           "contractor": f"Contractor {draw.randrange(40)} (invented)"}  # fmt: skip
        _vary(one, draw)
        if draw.random() < 0.1:
            one.pop(draw.choice(LEFT_OUT), None)
        elif draw.random() < 0.2 and one.get("service"):
            one["service"].pop(draw.choice(sorted(one["service"])))
        yield BROKEN[ways[i // 100 % len(ways)]](one) if i % 100 == 99 else written(one)


def as_column(path: Path, data: Iterable[bytes]) -> None:
    """Writes submissions as a column of a Parquet file, so that each is there byte for byte."""
    schema = pa.schema([("description", pa.binary())])
    with parquet.ParquetWriter(path, schema, compression="zstd") as file:
        rows = iter(data)
        while some := list(islice(rows, 256)):
            file.write_table(pa.table({"description": some}, schema))


@cache
def _bases() -> tuple[str, ...]:
    whole = [house(name) for name in HOUSES]
    return tuple(map(json.dumps, [*whole, *(one.description for one in queue(1))]))


def _vary(value: Any, draw: random.Random) -> None:
    """Draws numbers anew, in place, a little more or less than they were."""
    for key, item in value.items() if isinstance(value, dict) else enumerate(value):
        if isinstance(item, dict | list):
            _vary(item, draw)
        elif key in DRAWN and type(item) in (int, float):
            value[key] = round(item * draw.uniform(0.9, 1.1), 2)


# --- fifty ways to be no submission ------------------------------------------------------------------------------


def written(one: Any) -> bytes:
    return json.dumps(one, ensure_ascii=False, separators=(",", ":")).encode()


def text(change: Callable[[bytes], bytes]) -> Callable[[House], bytes]:
    """A way that is done to the text."""
    return lambda one: change(written(one))


def said(*path: Any, to: Any) -> Callable[[House], bytes]:
    """A way that puts one value elsewhere than it may stand."""
    def way(one: House) -> bytes:
        here: Any = one
        for step in path[:-1]:
            below = here.setdefault(step, {}) if isinstance(here, dict) else here[step]
            here = below if isinstance(below, dict | list) else here.__setitem__(step, {}) or here[step]
        here[path[-1]] = to
        return written(one)

    return way


BROKEN: Mapping[str, Callable[[House], bytes]] = {
    "nothing at all": lambda one: b"",
    "only blanks": lambda one: b"   ",
    "null": lambda one: b"null",
    "a number": lambda one: b"42",
    "a text": lambda one: b'"house"',
    "an empty list": lambda one: b"[]",
    "a list of houses": lambda one: written([one, one]),
    "its first byte": text(lambda data: data[:1]),
    "its first quarter": text(lambda data: data[: len(data) // 4]),
    "its first half": text(lambda data: data[: len(data) // 2]),
    "all but its last byte": text(lambda data: data[:-1]),
    "twice": text(lambda data: data + data),
    "one brace more": text(lambda data: data + b"}"),
    "a comma at its end": text(lambda data: data[:-1] + b",}"),
    "a colon less": text(lambda data: data.replace(b":", b"", 1)),
    "a quote less": text(lambda data: data.replace(b'"', b"", 1)),
    "single quotes": text(lambda data: data.replace(b'"', b"'")),
    "a comment": text(lambda data: b"/* house */" + data),
    "UTF-16": lambda one: json.dumps(one).encode("utf-16"),
    "UTF-32": lambda one: json.dumps(one).encode("utf-32"),
    "half a character": text(lambda data: data.replace(b"(invented)", b"(invent\xc3)", 1)),
    "Latin-1": text(lambda data: data.replace(b"(invented)", "(inventé)".encode("latin-1"), 1)),
    "half a pair": text(lambda data: data.replace(b"(invented)", b"\\ud800", 1)),
    "a zero byte": text(lambda data: data.replace(b"(invented)", b"\0", 1)),
    "a line break in a text": text(lambda data: data.replace(b"(invented)", b"\r", 1)),
    "NaN": said("service", "voltage", to=float("nan")),
    "no end": said("service", "voltage", to=float("inf")),
    "1e999": text(lambda data: data[:-1] + b',"x":1e999}'),
    "a number of 5000 digits": text(lambda data: data[:-1] + b',"x":' + b"9" * 5000 + b"}"),
    "a leading zero": text(lambda data: data[:-1] + b',"x":0123}'),
    "lists as deep as a well": lambda one: b"[" * 50_000,
    "objects as deep as a well": text(lambda data: b'{"a":' * 20_000 + data + b"}" * 20_000),
    "a word nobody knows": said("bathtubs", to=3),
    "a word nobody knows in a part": said("service", "colour of the door", to="red"),
    "a text for a list": said("circuits", to="all of them"),
    "a number for an object": said("service", to=7),
    "a text for a number": said("service", "voltage", to="many"),
    "a truth for a number": said("service", "voltage", to=True),
    "a list for a number": said("service", "voltage", to=[240]),
    "meters for volts": said("service", "voltage", to="6 m"),
    "a unit nobody knows": said("service", "voltage", to="6 furlongs"),
    "less than nothing": said("service", "rating", to=-200),
    "a day no calendar has": said("codes", "application_date", to="2026-02-30"),
    "an edition that never was": said("codes", "electrical_edition", to=1873),
    "a place no layer speaks for": said("codes", to={"jurisdiction": "Nowhere", "application_date": "2026-01-01"}),
    "a file elsewhere": said("catalogue", to=["../../../etc/passwd"]),
    "two parts of one name": said("documents", to=[{"id": "PV-1"}, {"id": "PV-1"}]),
    "a page of HTML": lambda one: b"<!doctype html><title>house</title>",
    "packed": text(gzip.compress),
    "a PDF": text(lambda data: b"%PDF-1.7 " + data),
}
"""What is done to a submission so that it can't be used, by what it is called."""
