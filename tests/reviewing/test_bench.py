"""The bench: what rules answer with facts changed is what they answer of a house that has them so.

The houses are the shipped ones with own changes; nothing is expected but that two ways to the same answers agree.
"""

from __future__ import annotations

from typing import Any

import pytest

import ampcite
from ampcite.engine.check import judge
from ampcite.engine.state import PENDING, EvaluationState
from ampcite.house.change import LEFT_OUT, change
from ampcite.house.parts import Part
from ampcite.language.logic import Barred
from ampcite.reviewing.bench import Bench, _answers
from shared import both, rulebook, shipped_house


def house(name: str) -> dict[str, Any]:
    """A house too hot for its conductors, so that tables bar quantities, and with a fact that nobody has stated."""
    out = change(shipped_house(name), "/site/design_high", "200 degF")
    return change(out, "/site/design_low", LEFT_OUT)


@pytest.mark.parametrize("name", ["plain-strings", "microinverters"])
def test_a_change_on_the_bench_is_a_change_of_the_house(name: str) -> None:
    book, document = rulebook(2020), house(name)
    assert book.editions == both(2020)
    bench = Bench(book, ampcite.read(document))
    parts = bench.state.description.numbered
    for number, values in enumerate(bench.state.values):
        for part in parts:
            if values.get(part.number, PENDING) is None:
                bench.state.reason(number, part)
    assert any(isinstance(why, Barred) for why in bench.state.reasons.values()), "a table bars something"

    def changed(part: Part, field: str, value: Any) -> bool:
        places = {(part, field): value}
        if bench.claims.touched(places):
            return False
        rules = bench.touched(places)
        other = ampcite.read(document)
        facts = other.numbered[part.number].facts
        if value is None:
            del facts[field]
        else:
            facts[field] = value
        expected = _answers(judge(EvaluationState(book.machine, other), rules))
        assert bench.ask(places, rules) == expected, (part.label, field, value)
        return True

    places = [(p, f) for p in parts for f, v in p.facts.items()
              if bench.readers.of_field.get((p.kind, f)) and isinstance(v, int | float | str)]  # fmt: skip
    hot = [(p, f) for p, f in places if p.kind in ("circuits", "circuits/segments")]
    done = 0
    for part, field in (*hot[:: max(1, len(hot) // 12)], *places[:: len(places) // 20]):
        value = part.facts[field]
        done += changed(part, field, None)
        if isinstance(value, float | int) and not isinstance(value, bool):
            done += changed(part, field, value * 2)
    assert done > 30
