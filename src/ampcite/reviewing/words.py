"""Changes, parts and missing facts in words."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from ampcite.engine.findings import Finding
from ampcite.house.part_types import Field, part_types, place_field, place_title, with_article
from ampcite.language.logic import ABSENT
from ampcite.language.printing import coarse, sentence
from ampcite.language.units import unit_words
from ampcite.reviewing.claims import SAID
from ampcite.reviewing.values import SIDES, Value, given_unit, in_unit, is_size

if TYPE_CHECKING:
    from ampcite.reviewing.bench import Bench
    from ampcite.reviewing.cures import Cure, Step


def cure_words(bench: Bench, cures: Sequence[Cure], findings: Sequence[Finding]) -> str:
    """What to change, for parts that need the same."""
    said = []
    for i, step in enumerate(cures[0].steps):
        part, path = step.place
        if part.kind == SAID:
            by, _, what = part.label.partition(" on the ")
            said.append(f"Let {by} say {step.value.said} for the {what}.")
            continue
        field = part_types()[part.kind].fields[path]
        where = listed_parts(dict.fromkeys(cure.steps[i].place[0].label for cure in cures))
        remedy = next((f.remedy for f in findings if (f.rule, f.about) in cures[0].keeps), "")
        if field.kind == "flag" and len(cures[0].steps) == 1 and remedy:
            others = dict.fromkeys(cure.steps[0].place[0].label for cure in cures[1:])
            said.append(remedy + (f" The same for {listed_parts(others)}." if others else ""))
        else:
            alike = len({cure.steps[i].place[0].facts[path] for cure in cures}) == 1
            said.append(sentence(_step_words(step, field, where, alike, "" if i else _tail(bench, cures))))
    return " ".join(dict.fromkeys(said)).replace(" of the system", "")


def _step_words(step: Step, field: Field, where: str, alike: bool, tail: str) -> str:
    """What to change, and from what, where it is the same for all the parts (`alike`)."""
    part, path = step.place
    before, value = part.facts[path], step.value
    if field.kind == "flag":
        return f"see to it for {where}: {'' if value.fact else 'not '}{field.title}."
    if field.kind == "outline":
        return f"draw back the {_side(before, value.fact)} side of {where} by {_inches(value.rank)}."
    if field.many:
        had = () if before is ABSENT else before
        more = [v for v in value.said if v not in had]
        less = [v for v in had if v not in value.fact]
        done = f"add {', '.join(more)} to" if more else f"strike {', '.join(less)} from"
        return f"{done} the {field.title} of {where}."
    title = field.title.removesuffix(f" of the {part_types()[part.kind].title}")
    title = title.removesuffix(f" of {part_types()[part.kind].title}")
    if field.kind == "text" and not field.choices:
        return f'let the {title} of {where} read "{value.said}".'
    new = value_words(value, field) + tail
    if before is ABSENT and alike:
        return f"give {where} {_article(title)} of {new}."
    if not alike:
        return f"change the {title} of {where} to {new}."
    old = f" from {before if field.kind == 'text' else value_words(Value(_said(step), before), field)}"
    return f"change the {title} of {where}{old} to {new}."


def _said(step: Step) -> Any:
    """What the description says now, where that can be printed as its like; else the fact itself."""
    part, path = step.place
    fact = part.facts[path]
    if isinstance(step.value.said, str):
        unit = given_unit(step.value.said, part_types()[part.kind].fields[path])
        return in_unit(fact, unit, part_types()[part.kind].fields[path], step.value.said, 0).said
    return fact


def _article(noun: str) -> str:
    return f"{'an' if noun[0] in 'aeiou' else 'a'} {noun}"


def value_words(value: Value, field: Field) -> str:
    """A value as a person would write it, in the unit in which the description gives its like."""
    if field.kind == "text":
        return f'"{value.said}"' if not field.choices else str(value.said)
    if isinstance(value.said, str):
        unit, number = given_unit(value.said, field), float(value.said.split()[0])
    else:
        unit, number = field.unit, float(value.said)
    return quantity(number, unit)


def quantity(number: float, unit: str) -> str:
    """A quantity as the trade writes it: sixteenths of an inch, feet and inches, else few figures."""
    if unit == "in" and 0 < number < 13 and not float(number).is_integer() and (16 * number).is_integer():
        return f"{_fraction(number)} in"
    if unit == "ft" and 0 < number < 100 and math.isclose(12 * number, round(12 * number), abs_tol=0.04) and number % 1:
        feet, inches = divmod(round(12 * number), 12)
        return f"{feet} ft {inches} in" if feet else f"{inches} in"
    return f"{coarse(number)}{unit_words(unit).replace('degF', '°F')}"


def _fraction(number: float) -> str:
    whole, top, bottom = int(number), round((number % 1) * 16), 16
    while top % 2 == 0:
        top, bottom = top // 2, bottom // 2
    return f"{whole} {top}/{bottom}" if whole else f"{top}/{bottom}"


def _inches(inches: int) -> str:
    feet, rest = divmod(inches, 12)
    return f"{feet} ft {rest} in" if feet and rest else f"{feet} ft" if feet else f"{rest} in"


def _side(before: Any, after: Any) -> str:
    for axis, names in enumerate(SIDES):
        old, new = ((min(p[axis] for p in one), max(p[axis] for p in one)) for one in (before, after))
        for end, name in enumerate(names):
            if old[end] != new[end]:
                return name
    return "one"


def _tail(bench: Bench, cures: Sequence[Cure]) -> str:
    """ "or larger", "or less": where values further on in the same direction were tried and do as well."""
    cure = cures[0]
    if len(cure.steps) > 1 or cure.follows:
        return ""
    step = cure.steps[0]
    part, path = step.place
    if part.kind == SAID:
        return ""
    field, fact, value = part_types()[part.kind].fields[path], part.facts[path], step.value.fact
    if field.kind == "text" and is_size(field) and field.choices and fact in field.choices:
        up = field.choices.index(value) > field.choices.index(fact)
        further = field.choices[field.choices.index(value) + 1 :][:2] if up else ()
        return " or larger" if further and all(_does(bench, cure, step, v) for v in further) else ""
    if field.kind != "number" or not isinstance(value, int | float):
        return ""
    for way, words in ((1, " or more"), (-1, " or less")):
        if isinstance(fact, int | float) and (value - fact) * way < 0:
            continue
        shares = (0.1, 0.4, 0.9) if fact is not ABSENT or way < 0 else (0.1, 0.4, 9)
        near = [value + way, value + 2 * way] if not field.unit else [value * (1 + way * share) for share in shares]
        if all(_does(bench, cure, step, v) for v in near):
            return words
    return ""


def _does(bench: Bench, cure: Cure, step: Step, value: Any) -> bool:
    changes = {step.place: value}
    rules = bench.touched(changes)
    before, after = bench.before(rules), bench.ask(changes, rules)
    cleared = not any(after.get(key) for key in cure.clears)
    return cleared and all(bad <= before.get(key, 0) for key, bad in after.items())


def listed_parts(labels: Iterable[str]) -> str:
    """Several parts in one phrase, what they have in common said once: "breakers 1, 2 and 4 of panel MAIN"."""
    groups: dict[tuple[str, str], list[str]] = {}
    for label in labels:
        found = re.fullmatch(r"(.+?) ([^ ]+)( of .+)?", label)
        kind, name, of = found.groups() if found else (label, "", "")
        groups.setdefault((kind, of or ""), []).append(name)
    return _and([f"{kind if len(names) == 1 else plural(kind)} {_and(names)}{of}".strip()
                 for (kind, of), names in groups.items()])  # fmt: skip


def plural(noun: str) -> str:
    """A noun in the plural; of a phrase, its first noun."""
    head, sep, tail = noun.partition(" in the ")
    head = f"{head[:-1]}ies" if head.endswith("y") and head[-2:-1] not in "aeiou" else f"{head}s"
    return head + sep + tail


def _and(words: Sequence[str]) -> str:
    return f"{', '.join(words[:-1])} and {words[-1]}" if len(words) > 1 else words[0]


LONGEST_CHOICE = 90
"""Choices are listed beside what is to be stated where they take no more characters than this."""


def asked(place: str) -> str:
    """What to state: a fact by its name, and between which words to choose.

    Args:
        place: JSON Pointer of the fact.
    """
    field, named = place_field(place), place_title(place).removeprefix("the ")
    words = f"{named} (yes or no)" if field is not None and field.kind == "flag" else with_article(named)
    choices = ", ".join(str(c) for c in field.choices) if field is not None else ""
    return f"{words} ({choices})" if choices and len(choices) <= LONGEST_CHOICE else words


def owners(places: Iterable[str], part_ids: Mapping[str, str]) -> str:
    """The parts or models that facts are of, in one phrase; "" for the whole.

    Args:
        places: JSON Pointers of facts.
        part_ids: the id of every part by its pointer.
    """
    found = list(dict.fromkeys(owner for place in places if (owner := _owner(place, part_ids))))
    more = [f"{len(found) - MOST_OWNERS} more"] if len(found) > MOST_OWNERS else []
    return _and([*found[:MOST_OWNERS], *more]) if found else ""


MOST_OWNERS = 6


def _owner(place: str, part_ids: Mapping[str, str]) -> str:
    """The id of the part that a fact is of, or the model."""
    steps = place.split("/")
    if steps[1] == "equipment" and len(steps) > 3:
        return f"model {steps[3].replace('~1', '/').replace('~0', '~')}"
    for end in range(len(steps) - 1, 1, -1):
        if "/".join(steps[:end]) in part_ids:
            return part_ids["/".join(steps[:end])]
    return ""
