"""What a change of local law says of itself: where it stands, both sides of it, which way it goes."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from ampcite.law.changes import Amendment, Change
from ampcite.law.records import Citation, Origin, Pack, Rule


class Refused(Exception):
    """One change that does not fit, in a sentence."""


def change_of(layer: Pack, one: Amendment, what: str, model: str, local: str, effect: str) -> Change:
    assert layer.authority is not None
    place = f"{one.work} {one.clause}"
    return Change(layer.authority.name, layer.authority.level, place, what, model, local, effect, one.why.rstrip("."))


def place_of(layer: Pack, one: Amendment) -> str:
    assert layer.authority is not None
    return f"{layer.authority.name}, {one.work} {one.clause}"


def cited(citation: Citation, edition: int) -> str:
    return f"{citation.work.at(edition)} {citation.clause.at(edition) or ''}".rstrip()


def by_whom(changes: Sequence[Change], edition: int, citation: Citation) -> str:
    return f"(by {changes[-1].authority}, {changes[-1].place})" if changes else f"({cited(citation, edition)})"


def effect_of(stricter: str, before: Decimal, after: Decimal) -> str:
    if stricter == "neither" or before == after:
        return "other"
    return "tighter" if (after > before) == (stricter == "higher") else "looser"


def origin_of(layer: Pack, one: Amendment) -> Origin:
    return Origin(f"{layer.folder}/{one.file}", f'amend "{one.id}"')


def origins_with(layer: Pack, one: Amendment, rule: Rule) -> dict[str, Origin]:
    """The origins of a rule with those of the inputs that a change brings."""
    new = {f"inputs / {name}": origin_of(layer, one) for name in one.inputs.keys() - rule.inputs.keys()}
    return {**rule.origins, **new}
