"""What a part is called across revisions of a description: by its id, or by where it stands in a part that has one."""

from __future__ import annotations

from ampcite.house.parts import Description


def part_ids(description: Description) -> dict[str, str]:
    """The id of every part, by its JSON Pointer.

    It is the part's own ``id``, which is unique in the whole description. A part without one goes by the id of the
    part it stands in and its place there, such as ``DC1/segments/0``; the whole system by "". Where such a name is
    taken, as an id that looks like one takes it, the pointer stands for it.
    """
    out: dict[str, str] = {}
    taken: set[str] = set()
    for parts in description.parts.values():
        for part in parts or ():
            own = part.facts.get("id")
            if not isinstance(own, str):
                above = part.links.get("..")
                under = part.pointer[len(above.pointer) + 1 :] if above else ""
                own = f"{out[above.pointer]}/{under}" if above and out[above.pointer] else under
            out[part.pointer] = part.pointer if own in taken else own
            taken.add(out[part.pointer])
    return out
