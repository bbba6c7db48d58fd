"""Which facts of the shipped houses can be wrong unnoticed.

Every scalar of every shipped house is changed, one at a time, to plausible wrong values: numbers to half, double and
their neighbours, words to other words of the list, flags to their contrary, names of parts to other parts, texts to
another text, to their half and to none, a text such as "10 AWG copper THWN-2" in each of its pieces. A fact is
*noticed* when one of these changes a verdict or makes the description be refused, *blind* otherwise. Blind facts must
stand in ``blind_facts.csv`` with the reason why nothing can be known of them; at most one in twenty may be blind.

    python tests/blind_facts.py                      # all, with the blind ones by field
    python tests/blind_facts.py --area circuits      # those whose pointer begins with /circuits
    python tests/blind_facts.py --sample 300         # some, drawn with a seed that is printed

Ends with 1 where a blind fact has no reason, or a reason is of a fact that is noticed or not there (whole runs).
"""

from __future__ import annotations

import argparse
import csv
import json
import random
import sys
from collections import Counter, defaultdict
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import attrs

import ampcite
from ampcite.base.resources import houses
from ampcite.house.part_types import Field, Place, place
from ampcite.house.phrase import parse, write
from ampcite.house.points import read_points, write_points
from ampcite.language.quantities import read_quantity

REASONS = Path(__file__).parent / "blind_facts.csv"
MOST = 0.05


@attrs.frozen
class Fact:
    """One scalar of a house: where it stands, what the schema knows of it."""

    house: str
    steps: tuple[str | int, ...]
    value: Any

    @property
    def pointer(self) -> str:
        return "".join(f"/{str(s).replace('~', '~0').replace('/', '~1')}" for s in self.steps)

    @property
    def key(self) -> str:
        """The field it is of, as ``blind_facts.csv`` names it."""
        there = place(self.pointer)
        path = there.field.path if there.field else there.group.path or str(self.steps[-1])
        return f"{there.part_type.name or 'the system'}: {path}"


def facts(name: str, document: Any, steps: tuple[str | int, ...] = ()) -> Iterator[Fact]:
    """Every scalar of a document."""
    if isinstance(document, dict):
        for key, value in document.items():
            yield from facts(name, value, (*steps, key))
    elif isinstance(document, list):
        for i, value in enumerate(document):
            yield from facts(name, value, (*steps, i))
    else:
        yield Fact(name, steps, document)


def wrong(fact: Fact, there: Place, ids: dict[str, list[str]]) -> Iterator[Any]:
    """Plausible wrong values of a fact."""
    how = there.group.phrase
    if there.field is None and how is not None and isinstance(fact.value, str):
        said = parse(how, fact.value)
        for name in said:
            field = there.part_type.fields[f"{there.group.path}/{name}"]
            for value in _of_field(said[name], field, ids):
                yield write(how, {**said, name: value})
    elif there.field is not None:
        yield from _of_field(fact.value, there.field, ids)
    elif isinstance(fact.value, str):
        yield f"other than {fact.value}"
    elif isinstance(fact.value, int | float) and not isinstance(fact.value, bool):
        yield from (fact.value * 2, fact.value + 1)  # what a claim prints


def _of_field(value: Any, field: Field, ids: dict[str, list[str]]) -> Iterator[Any]:
    if isinstance(value, list):
        for i, one in enumerate(value):
            yield from ([*value[:i], other, *value[i + 1 :]] for other in _of_field(one, field, ids))
        return
    if field.refers:
        known = [name for kind in field.refers for name in ids.get(kind, ())]
        yield from [name for name in known if name != value][:4]
        yield "nowhere drawn"
    elif field.choices:
        words = list(field.choices)
        if value in words:
            at = words.index(value)
            words = sorted(words, key=lambda word: abs(words.index(word) - at))
        yield from [word for word in words if word != value][:9]
    elif field.kind == "flag":
        yield not value
    elif field.kind == "number":
        yield from _numbers(value, field)
        if field.other is not None and isinstance(value, str):  # millivolts a degree, where percent may be said too
            yield from (f"{number} {field.other.unit}" for number in _numbers(value, field.other))
    elif field.kind == "outline":
        yield from _drawn(value)
    elif field.kind == "text" and isinstance(value, str) and _day(value):
        yield from ((date.fromisoformat(value) + timedelta(days=days)).isoformat() for days in (-400, 400, -30, 30))
    elif field.kind == "text":
        yield f"other than {value}"
        if isinstance(value, str) and len(value) > 1:
            yield value[: len(value) // 2]
        if field.null and value is not None:
            yield None  # words for people: whether there are any is all that can be known of them


def _numbers(value: Any, field: Field) -> Iterator[Any]:
    if value is None:
        yield from (1, 100)
        return
    try:
        number = float(read_quantity(value, field.unit)) if isinstance(value, str) else float(value)
    except ValueError:
        return
    if field.whole:
        tried = [number - 1, number + 1, number * 2, number // 2]
        yield from (int(n) for n in tried if n != number)
    else:
        yield from (number / 2, number * 2, number * 0.9 if number else 1, number * 1.1 if number else -1, -number)


def _drawn(value: Any) -> Iterator[Any]:
    """What is drawn elsewhere, larger, smaller, or with a corner less."""
    if value is None:
        return
    points = read_points(value, "")
    for by, x, y in ((1, 3, 0), (1, 0, 3), (1, -3, 0), (1, 0, -3), (2, 0, 0), (0.5, 0, 0)):
        yield write_points([(a * by + x, b * by + y) for a, b in points])
    yield write_points(points[1:])


def _day(text: str) -> bool:
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def verdicts(document: Any) -> Any:
    """What a check answers, without words; None where the description is refused."""
    try:
        description = ampcite.read(document)
        report = ampcite.check(ampcite.load(description.editions), description)
    except ampcite.AmpciteError:
        return None
    return frozenset((f.rule, f.about, f.verdict, f.decided) for f in report.findings)


def changed(document: Any, steps: tuple[str | int, ...], value: Any) -> Any:
    """The document with one scalar changed; what is not on the way to it is shared."""
    if not steps:
        return value
    out = dict(document) if isinstance(document, dict) else list(document)
    out[steps[0]] = changed(document[steps[0]], steps[1:], value)
    return out


def noticed(fact: Fact, document: Any, before: Any, ids: dict[str, list[str]]) -> bool:
    """Whether some wrong value changes a verdict."""
    return any(verdicts(changed(document, fact.steps, value)) != before
               for value in wrong(fact, place(fact.pointer), ids))  # fmt: skip


def reasons() -> dict[str, str]:
    """Why a fact of a field may be blind, by field."""
    with REASONS.open(newline="", encoding="utf-8") as file:
        return {row["field"]: row["reason"] for row in csv.DictReader(file)}


def main(arguments: list[str]) -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument(
        "--area", action="append", help="only facts whose pointer begins with /AREA; several may be named"
    )
    parser.add_argument("--sample", type=int, help="only so many facts")
    parser.add_argument("--seed", type=int, default=random.randrange(10**6))
    chosen = parser.parse_args(arguments)
    known = reasons()
    blind: dict[str, list[Fact]] = defaultdict(list)
    tried: Counter[str] = Counter()
    whole = {path.stem: json.loads(path.read_text("utf-8")) for path in houses()}
    every = [fact for name, document in whole.items() for fact in facts(name, document)]
    every = [f for f in every if not chosen.area or str(f.steps[0]) in chosen.area]
    every = [f for f in every if f.steps[0] not in ("$schema",)]
    if chosen.sample:
        print(f"seed {chosen.seed}")
        every = random.Random(chosen.seed).sample(every, min(chosen.sample, len(every)))
    before = {name: verdicts(document) for name, document in whole.items()}
    assert all(before.values()), "a shipped house is refused"
    ids: dict[str, dict[str, list[str]]] = {}
    for name, document in whole.items():
        parts = ampcite.read(document).parts
        ids[name] = {kind: [p.facts["id"] for p in found or () if isinstance(p.facts.get("id"), str)]
                     for kind, found in parts.items()}  # fmt: skip
    for fact in every:
        tried[fact.key] += 1
        if not noticed(fact, whole[fact.house], before[fact.house], ids[fact.house]):
            blind[fact.key].append(fact)
    count = sum(map(len, blind.values()))
    for key, found in sorted(blind.items(), key=lambda item: -len(item[1])):
        say = known.get(key, "NO REASON")
        where = f"{found[0].house} {found[0].pointer} = {found[0].value!r}"
        print(f"{len(found):4} of {tried[key]:4}  {key}: {say}  ({where})")
    share = count / len(every)
    print(f"{count} of {len(every)} facts can be wrong unnoticed: {share:.1%} (at most {MOST:.0%})")
    faults = [f"no reason is given for {key}" for key in blind if key not in known]
    if not chosen.sample and not chosen.area:
        faults += [f"a reason is given for {key}, of which every fact is noticed" for key in known if key not in blind]
    print("\n".join(faults))
    return 1 if faults or (share > MOST and not chosen.sample) else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
