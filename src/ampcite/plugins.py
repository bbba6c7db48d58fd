"""Packs that other distributions bring: the only room that knows pluggy, nowhere inside a check.

A distribution offers packs through an entry point in the group ``ampcite`` whose object has a function
``ampcite_packs`` marked with :data:`offers`.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pluggy

from ampcite.errors import Complaint, PackError
from ampcite.paths import shipped

GROUP = "ampcite"
offers = pluggy.HookimplMarker(GROUP)
_asks = pluggy.HookspecMarker(GROUP)


class Hooks:
    """What a distribution may offer."""

    @_asks
    def ampcite_packs(self) -> Iterable[str | Path]:
        """The folders of the packs it brings; each holds a ``pack.toml``."""
        raise NotImplementedError("a specification, never called")


class _Shipped:
    @offers
    def ampcite_packs(self) -> Iterable[str | Path]:
        return sorted(p.parent for p in shipped("rulepacks").glob("*/pack.toml"))


def pack_folders() -> dict[str, Path]:
    """The folder of every pack that is installed, by the folder's name, shipped ones first.

    Raises:
        PackError: when two distributions bring a pack of one name, or one of them can't be asked.
    """
    manager = pluggy.PluginManager(GROUP)
    manager.add_hookspecs(Hooks)
    manager.register(_Shipped(), "shipped with ampcite")
    out: dict[str, Path] = {}
    try:
        manager.load_setuptools_entrypoints(GROUP)
        answers = [(name, plugin) for name, plugin in manager.list_name_plugin() if plugin is not None]
        for name, plugin in answers:
            for folder in map(Path, getattr(plugin, "ampcite_packs", list)()):
                if folder.name in out:
                    raise PackError([Complaint(str(folder), "", f'brings a pack "{folder.name}" that {out[folder.name]} '
                                                                "brings too; uninstall one")])  # fmt: skip
                out[folder.name] = folder
    except PackError:
        raise
    except Exception as fault:  # somebody else's code ran
        raise PackError([Complaint("installed packs", "", f"a distribution that brings packs fails: {fault!r:.200}")]) from fault
    return out
