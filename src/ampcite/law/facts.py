"""A fact that local law sets for every house: what it is, and the rule that nobody states another."""

from __future__ import annotations

from collections.abc import Mapping

import attrs

from ampcite.base.editions import ByEdition
from ampcite.base.errors import nearest, short
from ampcite.house.part_types import Field, part_types
from ampcite.language.quantities import read_quantity
from ampcite.law.changes import Amendment
from ampcite.law.inserted import inserted
from ampcite.law.records import Citation, Pack, Parameter, Rule, Work
from ampcite.law.telling import Refused, change_of


def fact(layer: Pack, one: Amendment) -> tuple[str, object, Rule, Mapping[str, Parameter]]:
    """The path of a fact of the whole, its value, the rule that goes with it, and the figure that the rule needs.

    What a description leaves out, the law says; what it says otherwise breaks the rule.
    """
    assert layer.authority is not None
    path, to, who = one.said["fact"].removeprefix("/"), one.said["to"], layer.authority.name
    whole = part_types()[""]
    fields = whole.fields
    if path not in fields:
        raise Refused(f'sets "/{path}", which is no fact of the whole; {nearest(path, fields)}')
    field = fields[path]
    group = whole.groups.get(path.rpartition("/")[0])
    title = f"{group.title}, {field.title}" if path.count("/") > 1 and group else field.title
    name = f"{one.id.replace('-', '_')}_by_law"
    value, holds, figures = _statement(layer, one, field, to, name)
    plain = {"true": "yes", "false": "no"}.get(to, to) if field.kind == "flag" else to
    shown = "{" + name + "}" if figures else plain
    passes = f"{title} is {{stated|none}}, as {who} sets it." if field.kind != "flag" else \
        f"{title}: as {who} sets it."  # fmt: skip
    at_least = {"higher": "at least ", "lower": "at most "}.get(one.said.get("stricter", ""), "")
    fails = f"{title} is stated otherwise than {who} sets it: {at_least}{shown}."
    rule = inserted(layer, one, one.id, f"{title} is as {who} sets it", "/", {"stated": f"/{path}"}, holds, "",
                    passes, fails, f"Go by {at_least}{shown}, or leave it out.")  # fmt: skip
    there = "nothing of it; the applicant states it"
    change = change_of(layer, one, title, there, f"{at_least}{plain}", "other")
    return path, value, attrs.evolve(rule, changes=(change,)), figures


def _statement(layer: Pack, one: Amendment, field: Field, to: str, name: str
               ) -> tuple[object, str, Mapping[str, Parameter]]:  # fmt: skip
    assert layer.authority is not None
    if field.many:
        words = [] if to == "none" else [word.strip() for word in to.split(",")]
        strange = [word for word in words if field.choices and word not in field.choices]
        if strange:
            raise Refused(f"sets {field.title} to {short(strange[0])}; {nearest(strange[0], sorted(field.choices))}")
        return words, " and ".join(f"has(stated, {word!r})" for word in words) or "count(stated) == 0", {}
    if to == "none":
        if not field.nullable:
            raise Refused(f"says there is no {field.title}, which there always is")
        return None, "absent(stated)", {}
    known = "not absent(stated) and " if field.nullable else ""
    if field.kind == "flag":
        if to not in ("true", "false"):
            raise Refused(f'sets {field.title} to {short(to)}; it is "true" or "false"')
        return to == "true", "stated" if to == "true" else "not stated", {}
    if field.kind == "number":
        try:
            number = read_quantity(to, field.unit) if not _plain(to) else float(to)
        except ValueError as fault:
            raise Refused(f"sets {field.title} to {short(to)}, which {fault}") from None
        code = next(iter(layer.authority.against))
        cited = Citation(Work(one.work, code), ByEdition({0: one.clause}), ByEdition({0: one.read}))
        by_law = Parameter(name, f"{field.title} that {layer.authority.name} sets", field.unit or "", "neither",
                           ByEdition({0: repr(number)}), cited)  # fmt: skip
        compares = {"higher": ">=", "lower": "<="}.get(one.said.get("stricter", ""), "==")
        return number, f"{known}stated {compares} {name}", {name: by_law}
    if field.choices and to not in field.choices:
        raise Refused(f"sets {field.title} to {short(to)}; {nearest(to, sorted(field.choices))}")
    return to, f"{known}stated == {to!r}", {}


def _plain(text: str) -> bool:
    return text.lstrip("-").replace(".", "", 1).isdigit()
