"""A letter as records: what it says, in its order, before it is anything to look at."""

from __future__ import annotations

from collections.abc import Mapping

import attrs

NEW, OPEN, UNCHANGED, HIDDEN = "new", "still open", "answered without a change", "can't be decided any more"
"""How a numbered item stands: put for the first time; open since an earlier round; answered although nothing that it
rests on was changed; open, and a fact that decided it is no longer stated."""

CORRECTIONS, INFORMATION, CONDITIONS, CLEAN = "corrections", "information", "conditions", "clean"
"""What kind of letter it is: something has to be corrected; nothing, but facts are missing; nothing, but something is
to be seen on site; nothing at all. The last two are drafts for an official to sign."""

Key = tuple[str, str]
"""What an item is about across rounds: a rule and the id of a part; or "fact", "model" and so on, see `rounds`."""


@attrs.frozen
class Head:
    """Who writes to whom about what.

    Attributes:
        authority: the lines at the head.
        addressee: whom it goes to.
        facts: what the submission is, name and value: project, address, permit number, submission, round, date.
        footer: the line at the foot of each page.
        title: what the letter is called.
    """

    authority: tuple[str, ...]
    addressee: str
    facts: tuple[tuple[str, str], ...]
    footer: str
    title: str


@attrs.frozen
class Requirement:
    """What is required.

    Attributes:
        says: the requirement.
        clauses: where it stands.
        local: what local law changed in it, and what the model code has.
        verify: whether the clauses rest on memory alone and have to be looked up before the letter is sent.
    """

    says: str
    clauses: tuple[str, ...] = ()
    local: tuple[str, ...] = ()
    verify: bool = False


@attrs.frozen
class Item:
    """One numbered comment.

    Attributes:
        number: kept through all rounds.
        state: one of ``NEW``, ``OPEN``, ``UNCHANGED`` and ``HIDDEN``.
        must: whether it has to be settled; else it is advice.
        discipline: the group it belongs to, as the form of the letter calls it.
        sheet: the title of the sheet that shows it; "" where none does.
        heading: what it is about.
        shown: what the submission shows.
        required: what is asked.
        worked: the arithmetic, line by line.
        cure: what would settle it.
        keys: what it is about, to be known again in the next round.
        joined: parts that were added to it in this round.
        cured: what of it was cured since the last round, where the rest is still open.
        answer: what the applicant answered in the last round.
        reviewer: whether the reviewer wrote it.
    """

    number: int
    state: str
    must: bool
    discipline: str
    sheet: str
    heading: str
    shown: tuple[str, ...]
    required: tuple[Requirement, ...]
    worked: tuple[str, ...]
    cure: str
    keys: tuple[Key, ...]
    joined: tuple[str, ...] = ()
    cured: tuple[str, ...] = ()
    answer: str = ""
    reviewer: bool = False


@attrs.frozen
class Asked:
    """One fact that is asked for.

    Attributes:
        number, state, keys, answer: as of an item.
        of: the parts it is of; "" for the whole.
        says: what to state.
        waiting: how many answers wait for it.
    """

    number: int
    state: str
    of: str
    says: str
    waiting: int
    keys: tuple[Key, ...]
    answer: str = ""


@attrs.frozen
class Look:
    """What can only be seen on site.

    Attributes:
        stage: when; "" for now.
        place: where on the site.
        says: what to look at.
        clauses: where it is asked.
    """

    stage: str
    place: str
    says: str
    clauses: tuple[str, ...]


@attrs.frozen
class Settled:
    """An item that needs nothing more, and why: cured, waived or withdrawn."""

    number: int
    heading: str
    why: str


@attrs.frozen
class Letter:
    """What a reviewer writes of one submission in one round. It can't be changed.

    Attributes:
        kind: one of ``CORRECTIONS``, ``INFORMATION``, ``CONDITIONS`` and ``CLEAN``. None of them is an approval.
        round: 1 for the first.
        date: year-month-day; "" where none was given.
        head: who writes to whom about what.
        basis: the editions, why that law applies, what was not reviewed.
        opening, instructions, closing: what stands before and after the items.
        items: the numbered comments, by discipline and sheet.
        asked: what has to be stated, once.
        looks: what is to be seen on site, by stage and place.
        settled: what earlier rounds asked and is settled now.
        waived: what is not held against the submission, with who decided and until when.
        changes: what is other than in the last submission.
        notes: what the reviewer has to know, and to look at on the papers, before signing; no part of the letter that
            is sent.
        cautions: what every letter repeats.
        phrases: words by name, from the form.
    """

    kind: str
    round: int
    date: str
    head: Head
    basis: tuple[str, ...]
    opening: str
    instructions: tuple[str, ...]
    closing: tuple[str, ...]
    items: tuple[Item, ...]
    asked: tuple[Asked, ...]
    looks: tuple[Look, ...]
    settled: tuple[Settled, ...]
    waived: tuple[Settled, ...]
    changes: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]
    phrases: Mapping[str, str]

    @property
    def numbered(self) -> tuple[Item | Asked, ...]:
        """Everything that has a number."""
        return (*self.items, *self.asked)

    @property
    def must(self) -> tuple[Item, ...]:
        """The items that have to be settled."""
        return tuple(item for item in self.items if item.must)

    @property
    def advice(self) -> tuple[Item, ...]:
        """The items that are recommended practice."""
        return tuple(item for item in self.items if not item.must)
