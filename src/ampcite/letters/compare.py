"""Two submissions of one job, part by part: which part is which, and what is other than before."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from difflib import SequenceMatcher
from functools import cached_property
from typing import Any

from ampcite.house.part_types import Field, part_types
from ampcite.house.parts import Description, Part
from ampcite.language.logic import ABSENT
from ampcite.language.printing import sentence
from ampcite.reviewing.words import listed_parts, quantity


class Comparison:
    """What became of the parts of an earlier submission.

    A part is known again by its id. Parts without one, such as breakers in a panel, are known by what is said of
    them, in their order, so that one inserted in front of them does not make all of them look changed.

    Attributes:
        before, after: the submissions.
        renamed: the id of each part then to its id now; what is gone has none.
    """

    def __init__(self, before: Description, after: Description) -> None:
        self.before, self.after = before, after
        self._old, self._new = before.part_ids, after.part_ids
        self.renamed = {"": ""}
        for kind in before.parts:
            self._pair(kind)

    def _pair(self, kind: str) -> None:
        old, new = (self._by_owner(d, kind) for d in (self.before, self.after))
        names = {self._new[p.pointer] for parts in new.values() for p in parts}
        lost = []
        for owner, parts in old.items():
            others = new.get(self.renamed.get(owner, "\0gone"), [])
            for part in parts:
                if isinstance(part.facts.get("id"), str):
                    name = self._old[part.pointer]
                    if name in names:
                        self.renamed[name] = name
                    else:
                        lost.append(part)
            self._align(*([p for p in each if not isinstance(p.facts.get("id"), str)] for each in (parts, others)))
        taken = set(self.renamed.values())
        free = {_content(p): self._new[p.pointer] for parts in new.values() for p in parts
                if self._new[p.pointer] not in taken}  # fmt: skip
        for part in lost:
            if _content(part) in free:
                self.renamed[self._old[part.pointer]] = free.pop(_content(part))

    def _by_owner(self, description: Description, kind: str) -> Mapping[str, list[Part]]:
        out: dict[str, list[Part]] = {}
        ids = self._old if description is self.before else self._new
        for part in description.parts[kind] or ():
            above = part.links.get("..")
            if part.pointer:
                out.setdefault(ids[above.pointer] if above else "", []).append(part)
        return out

    def _align(self, old: list[Part], new: list[Part]) -> None:
        """Finds parts without a name again: by all that is said of them, wherever they stand now, else by place."""
        matcher = SequenceMatcher(None, [_content(p) for p in old], [_content(p) for p in new], autojunk=False)
        ways = matcher.get_opcodes()
        pairs = {p: q for what, i, j, k, m in ways if what == "equal" for p, q in zip(old[i:j], new[k:m], strict=True)}
        alike = {_content(p): p for p in reversed(new) if p not in pairs.values()}
        pairs |= {p: alike.pop(_content(p)) for p in old if p not in pairs and _content(p) in alike}
        for what, i, j, k, m in ways:
            if what == "replace":
                now = [p for p in new[k:m] if p not in pairs.values()]
                pairs |= dict(zip([p for p in old[i:j] if p not in pairs], now, strict=False))
        self.renamed |= {self._old[was.pointer]: self._new[now.pointer] for was, now in pairs.items()}

    @cached_property
    def changed(self) -> frozenset[tuple[str, str]]:
        """JSON Pointer of a part now, and the path of a fact that is other than before; of new parts, all facts."""
        out = {(now.pointer, path) for _, now, path in self._differences()}
        for part in self.added:
            out |= {(part.pointer, path) for path in part.facts}
        return frozenset(out)

    @cached_property
    def added(self) -> tuple[Part, ...]:
        """The parts that are new."""
        known = set(self.renamed.values())
        return tuple(p for parts in self.after.parts.values() for p in parts or () if self._new[p.pointer] not in known)

    @cached_property
    def gone(self) -> tuple[Part, ...]:
        """The parts there were before and are no more."""
        return tuple(p for parts in self.before.parts.values() for p in parts or ()
                     if self._old[p.pointer] not in self.renamed)  # fmt: skip

    def _differences(self) -> Iterator[tuple[Part, Part, str]]:
        now_by_id = {self._new[p.pointer]: p for parts in self.after.parts.values() for p in parts or ()}
        for parts in self.before.parts.values():
            for was in parts or ():
                now = now_by_id.get(self.renamed.get(self._old[was.pointer], "\0gone"))
                if now is not None:
                    for path in dict.fromkeys([*was.facts, *now.facts]):
                        if was.facts.get(path) != now.facts.get(path):
                            yield was, now, path

    def in_words(self) -> Iterator[str]:
        """What is other than before, a sentence each."""
        for was, now, path in self._differences():
            field = part_types()[now.kind].fields.get(path)
            if field is None or path == "id":
                continue
            before, after = (said(part.facts.get(path), field) for part in (was, now))
            of = "" if now.kind == "" else f"{sentence(now.label)}: "
            text = f"{of}{field.title} was {before}, is {after}." if before != after else f"{of}{field.title} changed."
            yield sentence(text)
        for words, parts in (("New", self.added), ("No longer there", self.gone)):
            labels = [p.label for p in parts if p.links.get("..") not in parts]
            if labels:
                yield f"{words}: {listed_parts(labels)}."


def said(value: Any, field: Field) -> str:
    """A fact as a person would say it."""
    if value is None:
        return "not stated"
    if value is ABSENT:
        return "none"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float):
        return quantity(value, field.unit)
    if isinstance(value, tuple):
        plain = [one for one in value if isinstance(one, str)]
        return (", ".join(plain) or "none") if len(plain) == len(value) else "drawn otherwise"
    return f'"{value}"' if not field.choices else str(value)


def _content(part: Part) -> str:
    return repr(sorted((key, value) for key, value in part.facts.items() if key != "id"))
