"""Packs that other distributions bring: the only room that knows pluggy.

A distribution offers packs through an entry point in the group ``ampcite`` whose object has a function
``ampcite_packs`` marked with :data:`offers`.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pluggy

from ampcite.base.errors import Complaint, PackError

GROUP = "ampcite"
offers = pluggy.HookimplMarker(GROUP)
_asks = pluggy.HookspecMarker(GROUP)


class Hooks:
    """What a distribution may offer."""

    @_asks
    def ampcite_packs(self) -> Iterable[str | Path]:
        """The folders of the packs it brings; each holds a ``pack.toml``."""
        return ()


def offered() -> list[Path]:
    """The folders that distributions offer.

    Raises:
        PackError: when one of them can't be asked.
    """
    manager = pluggy.PluginManager(GROUP)
    manager.add_hookspecs(Hooks)
    try:
        manager.load_setuptools_entrypoints(GROUP)
        return [folder for folders in reversed(manager.hook.ampcite_packs()) for folder in map(Path, folders)]
    except Exception as fault:  # somebody else's code ran
        said = f"a distribution that brings packs fails: {fault!r:.200}"
        raise PackError([Complaint("installed packs", "", said)]) from fault
