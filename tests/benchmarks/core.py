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
RULES = """
    string-voltage-over-dwelling-limit string-voltage-over-building-limit string-voltage-over-inverter-limit
    converter-string-voltage-over-inverter-limit string-voltage-over-module-limit dc-disconnect-voltage-too-low
    dc-overcurrent-device-voltage-too-low module-voltage-over-electronics-limit too-few-converters-in-string
    too-many-converters-in-string string-power-over-limit string-power-under-minimum hot-voltage-below-tracking-window
    design-temperature-without-source coefficient-implausible coefficient-implausible-for-silicon
    unlike-strings-on-one-input inverter-voltage-not-of-service device-too-small-for-continuous-current
    circuit-carries-nothing ac-circuit-without-overcurrent-device device-over-inverter-limit
    branch-device-over-microinverter-limit too-many-microinverters-on-branch string-fuse-missing
    string-fuse-over-module-rating string-fuse-too-small input-short-circuit-current-over-limit
    input-operating-current-over-limit module-current-over-electronics-limit module-power-over-electronics-limit
    device-too-large-for-small-conductor device-over-conductor-ampacity conductor-too-small-before-correction
    conductor-too-small-after-correction insulation-not-for-wet-place parallel-conductors-too-small
    equipment-ground-missing equipment-ground-too-small equipment-ground-not-enlarged voltage-drop-over-target
    rapid-shutdown-missing boundary-too-far-from-array entry-distance-too-long voltage-outside-boundary-too-high
    outside-limit-reached-too-late power-outside-boundary-too-high array-inside-boundary-not-controlled
    module-without-shutdown-device shutdown-equipment-not-listed initiation-device-missing
    initiation-device-not-outside initiation-device-of-wrong-kind too-many-initiation-devices
    one-operation-does-not-stop-everything pv-disconnect-missing too-many-pv-disconnects pv-disconnect-not-accessible
    disconnect-current-rating-too-low ac-disconnect-voltage-too-low disconnect-not-for-load pv-disconnect-not-lockable
    equipment-disconnect-not-lockable pv-disconnect-not-marked live-on-both-sides-not-marked handle-too-high
    line-and-load-reversed inverter-not-isolated equipment-disconnect-out-of-reach connectors-over-isolation-current
    working-space-too-shallow working-space-too-narrow working-space-too-low ethernet-run-over-channel-length
    ethernet-run-too-long serial-run-too-long data-cable-near-power data-cable-shares-power-raceway
    outdoor-data-cable-not-wet-rated radio-signal-not-checked no-communication-path 
    line-voltage-out-of-range line-to-neutral-voltage-out-of-range dc-not-down-before-switching
    shutdown-reading-too-high
"""
"""The rules that were written a second time by hand."""


def core_packs() -> list[Pack]:
    """The packs with those of their rules that the yardstick has."""
    packs = [load_pack(pack_folders()[name]) for name in PACKS]
    return [attrs.evolve(p, rules={k: r for k, r in p.rules.items() if k in RULES.split()}) for p in packs]


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
