"""One comment for each cause, with a cure that has been tried."""

from __future__ import annotations

from ampcite.house.part_types import part_types


def test_what_can_be_changed_says_by_whom_and_neither_site_nor_reading_can() -> None:
    marked = {f"{kind}/{path}": field.changed_by
              for kind, part_type in part_types().items() for path, field in part_type.fields.items()}  # fmt: skip
    assert set(marked.values()) == {"", "designer", "author", "crew"}
    fixed = ("/readings/", "readings/", "/site/", "/codes/", "roof/planes/", "modules/listing")
    assert not [path for path, by in marked.items() if by and path.startswith(fixed)]
