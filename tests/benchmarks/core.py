"""The rules that the hand-written yardstick has too, so that like is compared with like."""

from __future__ import annotations

import attrs

import ampcite
from ampcite.engine.bind import bind
from ampcite.engine.rulebook import rulebook_of
from ampcite.law.load import load_pack
from ampcite.law.records import Pack, Rule
from ampcite.law.registry import pack_folders

PACKS = ("electrical", "communications", "commissioning")
FILES = (
    "1-voltage.toml", "2-current.toml", "3-ampacity.toml", "4-shutdown.toml", "5-disconnects.toml", "rules.toml",
)  # fmt: skip
"""Files of packs whose rules were written a second time by hand."""


def core_packs() -> list[Pack]:
    """The packs with those of their rules that the yardstick has."""
    packs = [load_pack(pack_folders()[name]) for name in PACKS]
    return [attrs.evolve(p, rules={k: r for k, r in p.rules.items() if r.file in FILES}) for p in packs]


def core_rulebook(edition: int) -> ampcite.Rulebook:
    """A rulebook of just those rules."""
    return of(core_packs(), edition)


def many_rules(count: int, edition: int) -> ampcite.Rulebook:
    """A rulebook with so many rules: those of the packs, over and over."""
    packs = core_packs()
    pool = [(pack, rule) for pack in packs for rule in pack.rules.values() if rule.in_force(edition)]
    chosen: dict[str, dict[str, Rule]] = {pack.name: {} for pack in packs}
    for i in range(count):
        pack, rule = pool[i % len(pool)]
        name = f"{rule.id}-{i}"
        chosen[pack.name][name] = attrs.evolve(rule, id=name)
    return of([attrs.evolve(pack, rules=chosen[pack.name]) for pack in packs], edition)


def of(packs: list[Pack], edition: int) -> ampcite.Rulebook:
    """A rulebook of packs that are already records."""
    editions = {"electrical": edition}
    return rulebook_of(bind(packs, editions))
