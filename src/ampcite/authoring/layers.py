"""A layer of local law held against the law it changes: at every date it names, and under its adoptions."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path

import attrs

from ampcite.base.editions import CODES, Editions
from ampcite.base.errors import Complaint, PackError, nearest
from ampcite.engine.bind import bind
from ampcite.law.changes import Adoption
from ampcite.law.head import head
from ampcite.law.load import load_pack
from ampcite.law.overlay import lay
from ampcite.law.records import Pack
from ampcite.law.registry import changed_by, layer_folders


def within(file: str, folder: str) -> bool:
    """Whether a file is a pack's, or the pack itself."""
    return file == folder or file.startswith(f"{folder}/")


def layer_faults(layer: Pack, around: Sequence[Pack]) -> Iterator[Complaint]:
    """Everything that is wrong with a layer: its head, its changes on every date they name, its adoptions.

    Every rule that is changed is compiled, so that a formula, path or name that can't be right is found here and not by
    whoever first uses the layer.

    Args:
        layer: the layer.
        around: the packs it changes, and those they need.
    """
    assert layer.authority is not None
    if not (layer.amendments or layer.adoptions or layer.rules):
        said = "changes and adopts nothing; is the file of its changes named otherwise than .toml?"
        yield Complaint(f"{layer.folder}/pack.toml", "authority", said)
    known = {code: sorted({year for pack in around for year in pack.editions[code]}) for code in CODES}
    yield from _editions(layer, known)
    for date in sorted(dates(layer)) or [""]:
        yield from (c for c in _at(layer, [layer], around, layer.authority.against, date)
                    if within(c.file, layer.folder))  # fmt: skip
    for adoption in layer.adoptions:
        yield from _adoption(layer, adoption, around, known)


def dates(layer: Pack) -> set[str]:
    """The dates at which a layer changes what it does."""
    return {d for a in layer.amendments for d in (a.begins, a.ends, a.said.get("until", "")) if d}


def _at(layer: Pack, layers: Sequence[Pack], around: Sequence[Pack], editions: Editions, date: str) -> list[Complaint]:
    """What is wrong with layers laid over packs: changes that do not fit, and changed rules that can't be compiled."""
    packs, complaints = lay(around, layers, editions, date)
    own = {one.name for one in layers}
    few = [attrs.evolve(pack, rules={key: rule for key, rule in pack.rules.items()
                                     if pack.name in own or rule.changes or rule.origins})
           for pack in packs]  # fmt: skip
    try:
        bind(few, editions)
    except PackError as error:
        complaints += error.complaints
    return complaints


def _editions(layer: Pack, known: Mapping[str, list[int]]) -> Iterator[Complaint]:
    for code, years in layer.editions.items():
        for year in years:
            if known[code] and year not in known[code]:
                yield Complaint(f"{layer.folder}/pack.toml", "pack / editions", _none(year, code, known))


def _none(year: int, code: str, known: Mapping[str, list[int]]) -> str:
    return (f"names the {year} {CODES[code]}, of which there are no rules; "
            f"editions known: {', '.join(map(str, known[code]))}")  # fmt: skip


def _adoption(layer: Pack, one: Adoption, around: Sequence[Pack], known: Mapping[str, list[int]]
              ) -> Iterator[Complaint]:  # fmt: skip
    """What is wrong with an adoption, and with the layers it puts in force when they are laid together."""
    assert layer.authority is not None
    file, place = f"{layer.folder}/{one.file}", f'adoption "{one.begins}"'
    lost = [(code, year) for code, year in one.editions.items() if known[code] and year not in known[code]]
    yield from (Complaint(file, place, _none(year, code, known)) for code, year in lost)
    folders = layer_folders(Path(layer.folder))
    unknown = [name for name in one.layers if name not in folders and name != layer.name]
    for name in unknown:
        said = f'puts the layer "{name}" in force, which is not here; {nearest(name, [layer.name, *folders])}'
        yield Complaint(file, place, said)
    if layer.name in one.layers:
        for code, year in layer.authority.against.items():
            if one.editions.get(code, year) != year:
                yield Complaint(file, place, f"puts {layer.name} in force with the {one.editions[code]} {CODES[code]}, "
                                f"but its changes are written against the {year} edition: carry them over, or leave "
                                "the layer out of this adoption")  # fmt: skip
                return
    if lost or unknown or layer.name not in one.layers or len(one.layers) < 2:
        return
    others = [load_pack(folders[name]) for name in one.layers if name != layer.name]
    packs = {pack.name: pack for pack in around}
    for base in dict.fromkeys(base for other in others for base in changed_by(Path(other.folder))):
        if head(base).name not in packs:
            packs[head(base).name] = load_pack(base)
    layers = [layer, *others]
    for date in sorted({d for each in layers for d in dates(each)} | {one.begins}):
        found = _at(layer, layers, list(packs.values()), one.editions, date)
        yield from (c for c in found if within(c.file, layer.folder))
        for c in found:
            other = next((each.name for each in others if within(c.file, each.folder)), "")
            if other:
                said = f"lays {other} over this layer, and then its {c.place} does not fit: it {c.message}"
                yield Complaint(file, place, said)
