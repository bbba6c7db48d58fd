"""The pack quarry-town is data; this only says where it lies."""

from pathlib import Path

from ampcite.law.plugins import offers


@offers
def ampcite_packs() -> list[Path]:
    return [Path(__file__).parent / "quarry-town"]
