"""The packs that are installed, and those that packs need."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from contextlib import suppress
from functools import lru_cache
from pathlib import Path

from ampcite.base.errors import Complaint, PackError, nearest
from ampcite.base.resources import shipped
from ampcite.law.head import head


def pack_folders() -> dict[str, Path]:
    """The folder of every pack that is installed, by the folder's name, shipped ones first.

    Raises:
        PackError: when two distributions bring a pack of one name, or one of them can't be asked.
    """
    out = {p.parent.name: p.parent for p in sorted(shipped("rulepacks").glob("*/pack.toml"))}
    if any(map(_may_offer, sys.path)):
        from ampcite.law.plugins import offered

        for folder in offered():
            if folder.name in out:
                said = f'brings a pack "{folder.name}" that {out[folder.name]} brings too; uninstall one'
                raise PackError([Complaint(str(folder), "", said)])
            out[folder.name] = folder
    return out


def _may_offer(place: str) -> bool:
    """Whether distributions in a place that modules come from may offer packs; asking them properly takes long."""
    try:
        return _mentions_packs(place or os.curdir, os.stat(place or os.curdir).st_mtime_ns)
    except FileNotFoundError:
        return False
    except OSError:  # an archive, say
        return True


@lru_cache(maxsize=64)
def _mentions_packs(place: str, _: int) -> bool:
    """Whether a distribution in a folder, last changed at some time, has the entry point."""
    for entry in os.scandir(place):
        if entry.name.endswith(".egg"):
            return True
        if entry.name.endswith((".dist-info", ".egg-info")):
            with suppress(OSError), open(os.path.join(entry.path, "entry_points.txt"), "rb", buffering=0) as points:
                if b"[ampcite]" in points.read().replace(b" ", b""):
                    return True
    return False


def dependencies(chosen: Iterable[Path]) -> list[Path]:
    """The packs that chosen ones need (by their heads), and that are not chosen themselves.

    A needed pack is looked for beside the one that needs it first, then among those installed.

    Raises:
        PackError: when there is none of that name.
    """
    waiting = list(chosen)
    names = {head(where).name for where in waiting}
    out: list[Path] = []
    for where in waiting:
        for name in [*head(where).needs, *_read_from(where)]:
            if name in names:
                continue
            names.add(name)
            known = _reachable(where)
            if name not in known:
                said = f'needs the pack "{name}", which is not here; {nearest(name, known)}'
                raise PackError([Complaint(str(where), "", said)])
            out.append(known[name])
            waiting.append(out[-1])
    return out


def _read_from(where: Path) -> list[str]:
    """The packs whose quantities a layer reads, which it need not name."""
    if not head(where).layer:
        return []
    from ampcite.law.targets import Targets, hits, quantities_read

    wanted = quantities_read(where)
    return [name for name, path in _reachable(where).items()
            if not head(path).layer and hits(path, Targets(wanted, set()))] if wanted else []  # fmt: skip


def _reachable(where: Path) -> dict[str, Path]:
    """The packs that a pack can name: those installed, and those in the folders beside it, which come first."""
    beside = {path.parent.name: path.parent for path in sorted(where.parent.glob("*/pack.toml"))}
    return {**pack_folders(), **beside}


def layer_folders(where: Path) -> dict[str, Path]:
    """The layers of local law that a layer can name, by pack name: those installed, and those beside it."""
    found = [*pack_folders().values(), *(path.parent for path in sorted(where.parent.glob("*/pack.toml")))]
    return {one.name: path for path in found if (one := head(path)).layer}


def layers_by_name(folders: Iterable[Path]) -> dict[str, Path]:
    """The layers of local law by pack name: those installed, and those given, which come first.

    Args:
        folders: layers, as folders or zip files, or folders that hold some.

    Raises:
        PackError: when one of them is none, and holds none.
    """
    out = {one.name: path for path in pack_folders().values() if (one := head(path)).layer}
    for where in folders:
        found = [where] if where.is_file() or (where / "pack.toml").is_file() else \
            sorted(path.parent for path in where.glob("*/pack.toml"))  # fmt: skip
        layers = {one.name: path for path in found if (one := head(path)).layer}
        if not layers:
            raise PackError([Complaint(str(where), "", "is no layer of local law, and holds none")])
        out |= layers
    return out


def changed_by(where: Path) -> list[Path]:
    """The packs that a layer of local law changes: those that define what it names.

    Where that is not found, as of a misspelt name or a section that no rule rests on, every pack it can name, so that
    what was meant can be said.
    """
    from ampcite.law.targets import hits, targets

    known = [path for path in _reachable(where).values() if not head(path).layer]
    wanted = targets(where)
    by_pack = {path: hits(path, wanted) for path in known}
    found = [path for path, here in by_pack.items() if here]
    all_found = wanted.names <= {name for here in by_pack.values() for name in here}
    return found if all_found and (found or not wanted.places) else known


def chosen_folders(packs: Iterable[str | Path] | None) -> list[Path]:
    """The packs given by name, folder or zip file; of None, every installed one but layers of local law.

    A layer brings the packs that it changes.

    Raises:
        PackError: when a name is neither an installed pack nor a folder that holds one.
    """
    if packs is None:
        return [where for where in pack_folders().values() if not head(where).layer]
    out: list[Path] = []
    known: dict[str, Path] | None = None
    for pack in packs:
        if isinstance(pack, Path) or "/" in pack:
            out.append(Path(pack))
            continue
        known = pack_folders() if known is None else known
        if pack not in known and not (Path(pack) / "pack.toml").is_file() and not Path(pack).is_file():
            raise PackError([Complaint("", "", f'no pack is called "{pack}"; {nearest(pack, known)}')])
        out.append(known.get(pack, Path(pack)))
    names = {head(where).name for where in out}
    for layer in [where for where in out if head(where).layer]:
        for where in changed_by(layer):
            if (name := head(where).name) not in names:
                names.add(name)
                out.append(where)
    return out
