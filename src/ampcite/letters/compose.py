"""From a review to a letter."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

import attrs

from ampcite.base.editions import codes_in_words
from ampcite.base.errors import wrong_argument
from ampcite.base.frozen import frozen
from ampcite.base.stages import STAGES
from ampcite.engine.findings import Clause, Finding
from ampcite.house.parts import Description
from ampcite.language.printing import sentence
from ampcite.letters.edits import Edits
from ampcite.letters.form import Form, day_after, filled, form_of
from ampcite.letters.records import (
    CLEAN,
    CONDITIONS,
    CORRECTIONS,
    HIDDEN,
    INFORMATION,
    NEW,
    OPEN,
    UNCHANGED,
    Asked,
    Head,
    Item,
    Key,
    Letter,
    Look,
    Requirement,
    Settled,
)
from ampcite.letters.rounds import OWN, Answer, Earlier, Rounds, fact_key, key_of
from ampcite.letters.sheets import ORDER, PAPERS, Sheets, site_place
from ampcite.letters.texts import plain, readable, required_by, reworded, shown
from ampcite.reviewing.comments import Comment, Missing, Review
from ampcite.reviewing.telling import heading, telling
from ampcite.reviewing.words import asked as asked_words
from ampcite.reviewing.words import listed_parts


def compose(review: Review, description: Description, *, date: str = "", form: Form | None = None,
            edits: Edits | None = None, earlier: Earlier | None = None,
            answers: Mapping[int, Answer] | None = None) -> Letter:  # fmt: skip
    """The letter of a submission.

    Args:
        review: from :func:`ampcite.review`, of that description.
        description: from :func:`ampcite.read`.
        date: of the letter, year-month-day; "" leaves it and the days that count from it out.
        form: header, phrases and days; by default those of the jurisdiction that the description names.
        edits: what the reviewer changes, from :func:`ampcite.letters.edits.read_edits`.
        earlier: the record of the last round, from :func:`ampcite.letters.kept.read_record`.
        answers: what the applicant answered to it, by number, from :func:`ampcite.letters.answers.read_answers`.

    Raises:
        ArgumentError: when an argument is something else.
        PackError: when the pack of the jurisdiction can't be used.
    """
    if not isinstance(review, Review):
        raise wrong_argument("a letter is composed of what review gives", review)
    if not isinstance(description, Description):
        raise wrong_argument("a letter takes the description that was reviewed, from read", description)
    form = form or form_of(description)
    composer = _Composer(review, description, form, edits or Edits(), earlier, answers or {}, date)
    letter: Letter = readable(composer.letter())
    return letter


class _Composer:
    def __init__(self, review: Review, description: Description, form: Form, edits: Edits, earlier: Earlier | None,
                 answers: Mapping[int, Answer], date: str) -> None:  # fmt: skip
        self.review, self.description, self.form, self.edits = review, description, form, edits
        self.earlier, self.answers, self.date = earlier, answers, date
        self.rounds = Rounds(earlier, review, description)
        self.sheets = Sheets(description)
        report = review.report
        rules = report.verdicts.state.machine.bound.rules if report.verdicts else ()
        self.packs = {rule.id: rule.pack for rule in rules}
        self.titles = {rule.id: rule.title for rule in rules}
        self.waivers = [w for w in edits.waive if w not in edits.stale(date)]

    def letter(self) -> Letter:
        review, form, rounds = self.review, self.form, self.rounds
        items, asked = self.items(), self.asked()
        waived = tuple(self.waived())
        looks = tuple(sorted(self.looks(), key=_walk))
        own = tuple(look for look in looks if not look.stage and look.place == PAPERS)
        kind = self.kind(items, asked, looks, waived)
        words = self.words()
        phrases = {name: filled(text, words) for name, text in form.phrases.items()}
        facts = self.facts(phrases)
        return Letter(
            kind=kind,
            round=rounds.number,
            date=self.date,
            head=Head(form.header, words["addressee"], facts, filled(form.footer, words), phrases[kind]),
            basis=(phrases["basis"], *review.report.law, phrases["limits"]),
            opening=phrases[f"opening_{kind}"],
            instructions=tuple(filled(line, words) for line in form.instructions)
            if kind in (CORRECTIONS, INFORMATION) else (),
            closing=(*self.days(), *(filled(line, words) for line in form.closing)),
            items=items,
            asked=asked,
            looks=tuple(look for look in looks if look not in own),
            settled=tuple(self.settled(items, asked)),
            waived=waived,
            changes=tuple(dict.fromkeys(rounds.comparison.in_words())) if rounds.comparison else (),
            notes=(*self.notes(items), *(f"Look yourself: {look.says}" for look in own)),
            cautions=review.report.cautions,
            phrases=frozen(phrases),
        )  # fmt: skip

    # --- what stands around the items ----------------------------------------------------------------------------

    def kind(self, items: Sequence[Item], asked: Sequence[Asked], looks: Sequence[Look],
             waived: Sequence[Settled]) -> str:  # fmt: skip
        if any(item.must for item in items):
            return CORRECTIONS
        report = self.review.report
        if asked or not report.checked or report.taken_over or report.to_state:
            return INFORMATION
        return CONDITIONS if looks or waived else CLEAN

    def words(self) -> dict[str, str]:
        project = self.review.report.project
        facts = self.description.whole.facts
        applicant, contractor = (_text(facts.get(f"project/{key}")) for key in ("applicant", "contractor"))
        revision = "" if project.revision is None else filled(self.form.phrases["revision"],
                                                              {"number": str(project.revision)})  # fmt: skip
        name = ", ".join(part for part in (project.name, project.address, revision) if part)
        return {
            "authority": self.form.authority,
            "project": project.name or project.address or self.review.report.source,
            "submission": name or self.review.report.source,
            "round": str(self.rounds.number),
            "editions": codes_in_words(self.review.report.editions),
            "addressee": applicant or contractor,
            "revision": revision,
        }

    def facts(self, phrases: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
        project, said = self.review.report.project, self.description.whole.facts
        rows = [
            ("project", project.name), ("address", project.address), ("permit", _text(said.get("project/permit"))),
            ("contractor", _text(said.get("project/contractor"))), ("submission", self.words()["revision"]),
            ("stage", self.review.stage), ("round", str(self.rounds.number)), ("date", self.date),
        ]  # fmt: skip
        return tuple((phrases[name], value) for name, value in rows if value)

    def days(self) -> Iterator[str]:
        application = _text(self.description.whole.facts.get("codes/application_date"))
        for day in self.form.days:
            start = self.date if day.since == "letter" else application
            if start:
                at = day_after(start, day.days, day.working)
                yield filled(day.says, {"days": str(day.days), "from": start, "day": at})

    def notes(self, items: Sequence[Item]) -> Iterator[str]:
        """What the reviewer has to know before signing."""
        doubtful = [str(n) for n in sorted(i.number for i in items if any(r.verify for r in i.required))]
        if doubtful:
            which = f"item {doubtful[0]}" if len(doubtful) == 1 else f"items {', '.join(doubtful)}"
            yield f"No clause of {which} was read in a published copy: look {_it(doubtful)} up before this is sent."
        for waiver in self.edits.stale(self.date):
            yield f"The waiver of {waiver} ended {waiver.said['until']} and no longer holds; strike or renew it."
        yield from self.edits.unmatched(self.review.report.not_passed)
        report = self.review.report
        if not report.checked:
            yield "No rule could be decided: nothing was checked."
        if report.taken_over:
            yield f"{len(report.taken_over)} values are still those of an example, and so not of this house."
        if report.unread:
            yield f"Described, but read by no rule: {', '.join(report.unread)}."
        if self.answers:
            known = {one.number for one in self.earlier.numbered} if self.earlier else set()
            stray = [str(n) for n in sorted(self.answers) if n not in known]
            if stray:
                yield f"The response list answers {', '.join(stray)}, which the last round did not ask."

    # --- items ---------------------------------------------------------------------------------------------------

    def items(self) -> tuple[Item, ...]:
        drafts = [item for comment in self.review.comments for item in self.of_comment(comment)]
        drafts += [self.own(said) for said in self.edits.add]
        drafts += self.hidden()
        order = sorted(range(len(drafts)), key=lambda i: (
            not drafts[i].must, self.form.rank(drafts[i].discipline), drafts[i].discipline,
            self.sheets.rank(drafts[i].sheet), i))  # fmt: skip
        out = [drafts[i] for i in order]
        return tuple(item if item.number else attrs.evolve(item, number=self.rounds.next()) for item in out)

    def of_comment(self, comment: Comment) -> Iterator[Item]:
        left = [f for f in comment.findings if not self.dropped(f)]
        for group in self.rounds.split(left):
            yield self.item(comment, group)

    def dropped(self, finding: Finding) -> bool:
        return any(edit.meets(finding) for edit in (*self.edits.withdraw, *self.waivers))

    def item(self, comment: Comment, findings: Sequence[Finding]) -> Item:
        first = findings[0]
        keys = tuple(dict.fromkeys(map(key_of, findings)))
        number, old = self.rounds.numbered(keys)
        whole = len(findings) == len(comment.findings)
        labels = comment.parts if whole else tuple(dict.fromkeys(f.label for f in findings))
        cure = comment.cure + (f" Then also: {'; '.join(comment.follows)}." if comment.follows else "")
        item = Item(
            number=number or 0,
            state=self.state(number, old, findings),
            must=comment.verdict == "fail",
            discipline=self.form.discipline(self.packs.get(first.rule, ""), first.family),
            sheet=self.sheets.of(first),
            heading=heading(self.review.report, findings, labels, comment.changes),
            shown=shown(findings),
            required=required_by(findings),
            worked=tuple(telling(first.worked)),
            cure=cure,
            keys=keys,
            joined=tuple(dict.fromkeys(f.label for f in findings if self.rounds.was(key_of(f)) is None)) if old else (),
            cured=self.cured(number, keys),
            answer=self.answer(number),
        )
        for edit in self.edits.reword:
            if any(edit.meets(f) for f in findings):
                item = reworded(item, edit.said)
        return item

    def cured(self, number: int | None, keys: Sequence[Key]) -> tuple[str, ...]:
        """What an item asked in the last round and no longer asks, though the rest of it is open."""
        old = next((item for item in self.earlier.items if item.number == number), None) if self.earlier else None
        if old is None:
            return ()
        gone = [key for key in map(self.rounds.now, old.keys) if key not in keys]
        open_ = {key_of(f) for f in self.review.report.not_passed}
        found = {key_of(f): f for f in self.review.report.passes if (f.rule, f.part) in gone}
        said = [f"{sentence(found[key].label)}: {found[key].title}" if key in found else self.titles.get(key[0], "")
                for key in gone if key not in open_]  # fmt: skip
        return tuple(dict.fromkeys(filter(None, said)))

    def state(self, number: int | None, old: bool, findings: Sequence[Finding]) -> str:
        if not old:
            return NEW
        known = [f for f in findings if self.rounds.was(key_of(f)) is not None]
        return UNCHANGED if number in self.answers and self.rounds.untouched(known) else OPEN

    def answer(self, number: int | None) -> str:
        return str(self.answers.get(number, "")) if number is not None else ""

    def own(self, said: Mapping[str, Any]) -> Item:
        """A comment of the reviewer's own."""
        key = (OWN, str(said["id"]))
        number, old = self.rounds.numbered([key])
        clause = said.get("clause", "")
        return Item(
            number=number or 0, state=OPEN if old else NEW, must=not said.get("advice", False),
            discipline=said.get("discipline", self.form.phrases["other"]), sheet=said.get("sheet", ""),
            heading=said["heading"], shown=(said["shown"],) if "shown" in said else (),
            required=(Requirement(said["required"], (clause,) if clause else ()),), worked=(), cure=said["cure"],
            keys=(key,), answer=self.answer(number), reviewer=True,
        )  # fmt: skip

    def hidden(self) -> Iterator[Item]:
        """Items of the last round that can't be decided any more: leaving a fact out is no cure."""
        if self.earlier is None:
            return
        open_ = [f for f in self.review.report.not_passed if not f.decided and not self.dropped(f)]
        for old in self.earlier.items:
            findings = [f for f in open_ if self.rounds.was(key_of(f)) == old.number]
            if not findings or (old.state == HIDDEN and not findings):
                continue
            keys = tuple(dict.fromkeys(map(key_of, findings)))
            number, _ = self.rounds.numbered(keys)
            if number is None:
                continue
            part_ids = self.review.report.part_ids
            lacking = dict.fromkeys(asked_words(p) for f in findings for p in f.missing)
            of = dict.fromkeys(f.label for f in findings if part_ids)
            yield Item(
                number, HIDDEN, old.must, old.discipline, old.sheet, old.heading, shown(findings),
                required_by(findings), (), f"State for {listed_parts(of)}: {'; '.join(lacking)}."
                if lacking else old.cure, keys, answer=self.answer(number),
            )  # fmt: skip

    # --- what is asked, looked at, settled and waived -----------------------------------------------------------------

    def asked(self) -> tuple[Asked, ...]:
        by_items = {place for f in self.review.report.not_passed if self.in_item(f) and not self.dropped(f)
                    for place in f.missing}  # fmt: skip

        def is_asked(f: Finding) -> bool:
            return self.dropped(f) or self.in_item(f) or (bool(f.missing) and by_items.issuperset(f.missing))

        out = [self.ask(one) for one in (*self.review.missing, *self.review.unbegun)
               if not one.findings or not all(map(is_asked, one.findings))]  # fmt: skip
        out = [one if one.number else attrs.evolve(one, number=self.rounds.next()) for one in out]
        return tuple(sorted(out, key=lambda one: one.of != "") if self.earlier is None else out)

    def in_item(self, finding: Finding) -> bool:
        """Whether an open item of the last round asks for it already."""
        return self.earlier is not None and self.rounds.was(key_of(finding)) in {i.number for i in self.earlier.items}

    def ask(self, missing: Missing) -> Asked:
        part_ids = self.review.report.part_ids
        keys = tuple(dict.fromkeys(fact_key(place, part_ids) for place in missing.places))
        keys = keys or tuple(dict.fromkeys(map(key_of, missing.findings)))
        number, old = self.rounds.numbered(keys)
        answered = number in self.answers
        state = (UNCHANGED if answered else OPEN) if old else NEW
        return Asked(number or 0, state, missing.of, missing.asked, missing.waiting, keys, self.answer(number))

    def looks(self) -> Iterator[Look]:
        for stage, findings in [("", self.review.looks), *self.review.later.items()]:
            same: dict[tuple[str, str], list[Clause]] = {}
            for f in findings:
                if not self.dropped(f):
                    same.setdefault((site_place(f), f.asks or f.title), []).extend(f.citations)
            for (place, says), clauses in same.items():
                yield Look(stage, place, says, tuple(dict.fromkeys(map(plain, clauses))))

    def settled(self, items: Iterable[Item], asked: Iterable[Asked]) -> Iterator[Settled]:
        if self.earlier is None:
            return
        here = {one.number for one in items} | {one.number for one in asked}
        withdrawn = {self.rounds.was(key_of(f)): edit.said["reason"] for edit in self.edits.withdraw
                     for f in self.review.report.not_passed if edit.meets(f)}  # fmt: skip
        waived = {self.rounds.was(key_of(f)): edit.said["reason"] for edit in self.waivers
                  for f in self.review.report.not_passed if edit.meets(f)}  # fmt: skip
        rules = {f.rule for f in self.review.report.passes}
        own = {said["id"] for said in self.edits.add}
        for old in self.earlier.items:
            if old.number in here or old.number in waived:
                continue
            if old.number in withdrawn:
                why = f"withdrawn: {withdrawn[old.number]}"
            elif old.reviewer and old.keys[0][1] not in own:
                why = "cured"
            else:
                why = "cured" if any(rule in rules for rule, _ in old.keys) else "no longer applies"
            yield Settled(old.number, f"{old.heading} ({old.required[0].says.rstrip('.')})", why)
        for fact in self.earlier.asked:
            if fact.number not in here:
                yield Settled(fact.number, f"{fact.says}{f' of {fact.of}' if fact.of else ''}", "stated")

    def waived(self) -> Iterator[Settled]:
        seen: set[tuple[int, str]] = set()
        for edit in self.waivers:
            for f in self.review.report.not_passed:
                if edit.meets(f):
                    number = self.rounds.was(key_of(f)) or 0
                    heading = f"{sentence(f.label)}: {f.title}" if f.part else f.title
                    if (number, heading) not in seen:
                        seen.add((number, heading))
                        why = f"{edit.said['reason']} ({edit.said['owner']}, until {edit.said['until']})"
                        yield Settled(number, heading, why)


def _walk(look: Look) -> tuple[int, int]:
    stage = -1 if not look.stage else STAGES.index(look.stage)
    return stage, ORDER.index(look.place) if look.place in ORDER else len(ORDER)


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""


def _it(things: Sequence[object]) -> str:
    return "it" if len(things) == 1 else "them"
