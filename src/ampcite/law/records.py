"""What a pack holds, as records: parameters, tables, derived quantities and rules, with figures by edition."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import takewhile
from typing import Any

import attrs

from ampcite.base.editions import WITHDRAWN, ByEdition
from ampcite.law.changes import Adoption, Amendment, Authority, Change


@attrs.frozen
class Work:
    """A code or standard that a pack cites, and the code whose editions its clauses go by.

    Attributes:
        force: "code", where it is a code or law in force; "demand", what a maker, an authority or a utility asks for,
            which binds where a description states it; "advice", a practice or a standard that no code adopts.
    """

    title: str
    code: str
    force: str = "code"

    def at(self, edition: int) -> str:
        """Its title at an edition."""
        return self.title.replace("{edition}", str(edition))


@attrs.frozen
class Source:
    """Where a figure was read: a published text, "common practice", or memory.

    ``article``: it tells of the text that is cited, and is not that text in any copy.
    """

    key: str
    title: str
    body: str
    year: str
    note: str = ""
    article: bool = False


@attrs.frozen
class Citation:
    """A clause of a work, and where that clause or its figure was read, both by edition.

    ``stated`` names the input of the rule that tells of the demand, where the work is one; ``when`` is the formula that
    says of which parts the clause speaks, "" where of all that the rule is asked of.
    """

    work: Work
    clause: ByEdition
    read: ByEdition
    stated: str = ""
    when: str = ""


@attrs.frozen
class Parameter:
    """A figure with a name.

    Attributes:
        stricter: "higher", "lower" or "neither": which way a change tightens the rule.
        value: decimal texts by edition, in ``unit``.
        changes: what layers of local law did to it.
    """

    name: str
    meaning: str
    unit: str
    stricter: str
    value: ByEdition
    citation: Citation
    note: str = ""
    changes: tuple[Change, ...] = ()


@attrs.frozen
class TableSpec:
    """A table of a pack; the cells of each edition's file as rows of texts, header first."""

    name: str
    meaning: str
    files: ByEdition
    rows: Mapping[str, tuple[tuple[str, ...], ...]]
    match: str
    row_header: str
    row_unit: str | None
    conditions: tuple[tuple[str, str | None], ...]
    gives_unit: str | None
    beyond: str
    citation: Citation
    changes: tuple[Change, ...] = ()


@attrs.frozen
class Case:
    """One way to reach a derived quantity: ``value`` where ``when`` is true (always, where that is empty).

    ``says`` is a worked line of its own that gives the reason.
    """

    when: str
    value: str
    let: Mapping[str, str]
    says: str = ""


@attrs.frozen
class Origin:
    """Where a piece of a rule was written, if not in the rule itself: a change of a layer, with its file."""

    file: str
    place: str


@attrs.frozen
class Derived:
    """A quantity reckoned for every part of a kind, used like a field of it."""

    name: str
    meaning: str
    each: str
    unit: str | None
    inputs: Mapping[str, str]
    cases: tuple[Case, ...]
    origin: Origin | None = None
    changes: tuple[Change, ...] = ()


@attrs.frozen
class Alternative:
    """One of several ways to satisfy a rule."""

    name: str
    holds: str
    says: str
    begins: int | None
    withdrawn: int | None


@attrs.frozen
class Example:
    """A test of a rule that reads as an example.

    Attributes:
        given: what is said of the house, JSON Pointer (without the first stroke) to value.
        house: the shipped house that is changed by it; "" where it is all that is said.
        verdict: what the rule answers, or "" where it gives no finding.
        figures: figures the finding must show, by name; for an example at a limit, on the broken side.
        worked: words that a worked line, the finding's sentence or one of its clauses must hold; for an example at a
            limit, on the side that is kept.
        vary, at, step, passes: for an example at a limit: the pointer that varies, its value at the limit, how far
            the steps to either side go, and on which side the rule is kept: "at or above", "at or below",
            "above" or "below".
    """

    says: str
    editions: tuple[int, ...]
    given: Mapping[str, object]
    source: str
    verdict: str | None = None
    vary: str = ""
    at: object = None
    step: object = None
    passes: str = ""
    figures: Mapping[str, float | str] = attrs.Factory(dict)
    worked: str = ""
    house: str = ""


@attrs.frozen
class Rule:
    """A rule as its pack states it. Formulas are still texts here.

    Attributes:
        asks: makes it a question for a person on site: what to look at or photograph, and why.
        stage: the first stage of a job at which it can be answered, where the pack says so; else "", and the facts
            it reads decide.
        cure: input to a word, or to the name of one of the rule's figures: what a cure changes first.
        scopes: conditions that layers of local law added to ``applies``, in their order: "narrow" or "widen", and the
            formula.
        changes: what layers of local law did to it.
        origins: where pieces of it were written that layers of local law put in: by "inputs / NAME", 'way "NAME"' or
            "scope NUMBER"; "" for a rule that is put in whole.
        struck: by whom and why it was struck, or "".
        waived: by whom, until when and why it is waived, or "".
        referred: who decides it instead, by whose word, or "".
    """

    id: str
    title: str
    family: str
    force: str
    covers: tuple[str, ...]
    each: str
    scope: str
    inputs: Mapping[str, str]
    let: Mapping[str, str]
    applies: str
    holds: str
    alternatives: tuple[Alternative, ...]
    passes: ByEdition
    fails: ByEdition
    remedy: ByEdition
    asks: str
    citations: tuple[Citation, ...]
    begins: int | None
    withdrawn: int | None
    given: Mapping[str, object]
    examples: tuple[Example, ...]
    file: str = ""
    changes: tuple[Change, ...] = ()
    scopes: tuple[tuple[str, str], ...] = ()
    origins: Mapping[str, Origin] = attrs.Factory(dict)
    struck: str = ""
    waived: str = ""
    referred: str = ""
    stage: str = ""
    cure: Mapping[str, str] = attrs.Factory(dict)

    @property
    def code(self) -> str:
        """The code by whose editions the rule goes: that of the first work it cites."""
        return self.citations[0].work.code

    @property
    def rests_on(self) -> Citation:
        """What it rests on first: its first citation; where that speaks of some parts only, with those after it that do
        so too, as one."""
        first = self.citations[0]
        if not first.when:
            return first
        those = [*takewhile(lambda c: c.when and c.work == first.work, self.citations)]
        years = sorted({year for c in those for year in c.clause.texts})
        said = {year: "; ".join(text for c in those if (text := c.clause.at(year))) for year in years}
        return attrs.evolve(first, clause=ByEdition({year: text or WITHDRAWN for year, text in said.items()}), when="")

    def in_force(self, edition: int) -> bool:
        """Whether the rule exists at an edition of its code."""
        return (self.begins or 0) <= edition < (self.withdrawn or 9999)


@attrs.frozen
class Mark:
    """That a second reader has read a rule against the text of an edition.

    Attributes:
        verdict: "right", or "no text" where none of that edition is to be had.
        source, place: where it was read: a source of the pack, and the place in it.
        content: a digest of what the rule said then.
    """

    verdict: str
    source: str
    place: str
    content: str


@attrs.frozen
class Pack:
    """A pack as loaded from its folder.

    Attributes:
        editions: the editions it knows of each code.
        needs: the packs whose parameters, tables and derived quantities it uses.
        authority: who speaks in it; then it is a layer of local law.
        amendments, adoptions: what such a layer changes, and what it has in force from which date.
        facts: what it sets for every house, by the path of a fact of the whole.
        marks: what a second reader has marked, by rule and edition.
        letter: what letters of its jurisdiction say around their comments, by the schema's names.
    """

    name: str
    title: str
    version: str
    editions: Mapping[str, tuple[int, ...]]
    needs: tuple[str, ...]
    works: Mapping[str, Work]
    sources: Mapping[str, Source]
    parameters: Mapping[str, Parameter]
    tables: Mapping[str, TableSpec]
    derived: Mapping[str, Derived]
    rules: Mapping[str, Rule]
    digest: str
    folder: str
    order: int = 100
    authority: Authority | None = None
    amendments: tuple[Amendment, ...] = ()
    adoptions: tuple[Adoption, ...] = ()
    facts: Mapping[str, object] = attrs.Factory(dict)
    letter: Mapping[str, Any] = attrs.Factory(dict)
    marks: Mapping[tuple[str, int], Mark] = attrs.Factory(dict)
