"""A pack folder (TOML and CSV, nothing else) becomes records; every fault in it is reported at once."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any, NamedTuple, TypeVar

import attrs

from ampcite.base.editions import BUILDING, CODES, ELECTRICAL, ByEdition
from ampcite.base.errors import Complaint, PackError, nearest
from ampcite.house.part_types import part_types
from ampcite.law.changes import FIELDS, Adoption, Amendment, Authority
from ampcite.law.files import EXAMPLES, MARKS, content, digest
from ampcite.law.records import (
    Alternative,
    Case,
    Citation,
    Derived,
    Example,
    Pack,
    Parameter,
    Rule,
    Source,
    TableSpec,
    Work,
)
from ampcite.law.second_reader import marks_of
from ampcite.law.sentences import with_words, word_faults
from ampcite.law.sift import Sifted, beside_of, sift

T = TypeVar("T")

OWN = "own invention"
"""The source of an example that names none."""


def load_pack(where: Path) -> Pack:
    """The pack in a folder or zip file.

    Raises:
        PackError: with every fault found, each with its file and place.
    """
    read = read_pack(where)
    if read.complaints or read.pack is None:
        raise PackError(read.complaints)
    return read.pack


class ReadPack(NamedTuple):
    """A pack as far as it can be read.

    Attributes:
        pack: what is sound in it; None where there is not even a head.
        complaints: every fault.
        dropped: names of what was left out for a fault, of which nothing more should be said.
    """

    pack: Pack | None
    complaints: list[Complaint]
    dropped: frozenset[str]


def read_pack(where: Path) -> ReadPack:
    """What can be read of a pack with faults, for those who want to hear of all of them at once."""
    try:
        return _Loader(where).read(content(where))
    except PackError as fault:
        return ReadPack(None, list(fault.complaints), frozenset())


class _Loader:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.sifted = Sifted(folder)
        self.workless = False

    def complain(self, file: str, place: str, said: str) -> None:
        self.sifted.complain(file, place, said)

    def sure(self, *parts: str) -> bool:
        """Whether the head was sound in what a complaint rests on."""
        return not self.sifted.doubtful.intersection(parts)

    def read(self, files: dict[str, bytes]) -> ReadPack:
        sifted = self.sifted = sift(self.folder, files)
        whole = next((value for name, value in sifted.tables if name == "pack.toml" and "pack" in value), None)
        if whole is None:
            return ReadPack(None, sifted.complaints, frozenset())
        before, left_out = len(sifted.complaints), frozenset(sifted.dropped)
        pack = self.records(whole, sifted.tables, digest(files))
        follow = (c for c in sifted.complaints[before:] if not any(f'"{name}"' in c.message for name in left_out))
        found = [*sifted.complaints[:before], *follow]
        faulty = {match[1] for c in found if (match := _PLACE.match(c.place))}
        faulty |= sifted.dropped & {*pack.tables, *pack.rules}
        return ReadPack(_without(pack, faulty) if found else pack, found, frozenset(sifted.dropped | faulty))

    # --- records -----------------------------------------------------------------------------------------

    def records(self, whole: dict[str, Any], values: list[tuple[str, dict[str, Any]]], content_digest: str) -> Pack:
        head = whole["pack"]
        try:
            marks = marks_of(self.sifted.rows.pop(MARKS)) if MARKS in self.sifted.rows else {}
        except ValueError as fault:
            self.complain(MARKS, "", str(fault))
            marks = {}
        works = {k: {"title": v} if isinstance(v, str) else v for k, v in head["works"].items()}
        self.works = {k: Work(v["title"], v.get("code", ELECTRICAL), v.get("force", "code"))
                      for k, v in works.items()}  # fmt: skip
        self.sources = {k: Source(k, v["title"], v["body"], v["year"], v.get("note", ""), v.get("article", False))
                        for k, v in head["sources"].items()}  # fmt: skip
        self.readings, self.work = head.get("readings", {}), head.get("work", "")
        for key, reading in self.readings.items():
            self.sources_known("pack.toml", f"pack / readings / {key}", reading.values())
        if self.work and self.work not in self.works:
            self.complain("pack.toml", "pack / work", f'names the work "{self.work}"; {nearest(self.work, self.works)}')
        self.editions = {ELECTRICAL: tuple(head["editions"]), BUILDING: tuple(head.get("building_editions", ()))}
        parameters: dict[str, Parameter] = {}
        tables: dict[str, TableSpec] = {}
        derived: dict[str, Derived] = {}
        rules: dict[str, Rule] = {}
        amendments: dict[str, Amendment] = {}
        adoptions: list[Adoption] = []
        letter: dict[str, Any] = {}
        authority = self.authority(whole)
        for name, value in values:
            for raw in value.get("parameter", ()):
                self.once(name, "parameter", parameters, raw["name"], self.parameter(name, raw))
            for raw in value.get("table", ()):
                self.once(name, "table", tables, raw["name"], self.table(name, raw))
            for raw in value.get("derived", ()):
                self.once(name, "derived", derived, raw["name"], self.derived(name, raw))
            for raw in value.get("rule", ()):
                self.once(name, "rule", rules, raw["id"], self.rule(name, raw))
            for raw in value.get("amend", ()):
                self.once(name, "amend", amendments, raw["id"], self.amendment(name, raw))
            adoptions += [self.adoption(name, raw) for raw in value.get("adoption", ())]
            if "letter" in value:
                self.once(name, "letter", letter, "letter", value["letter"])
        self.strangers()
        for key in amendments.keys() & rules.keys():
            self.complain(amendments[key].file, f'amend "{key}"', "has the id of a rule of this pack; choose another")
        if authority is None and self.sure("authority") and (amendments or adoptions or letter):
            said = "has no [authority]; a pack that changes or adopts law, or shapes letters, says who speaks"
            self.complain("pack.toml", "", said)
        return Pack(head["name"], head["title"], head["version"], self.editions,
                    tuple(head.get("needs", ())), self.works, self.sources,
                    parameters, tables, derived, rules, content_digest, str(self.folder),
                    head.get("order", 100), authority, tuple(amendments.values()),
                    tuple(sorted(adoptions, key=lambda a: a.begins)), letter=letter.get("letter", {}),
                    marks=marks)  # fmt: skip

    def authority(self, whole: Mapping[str, Any]) -> Authority | None:
        raw = whole.get("authority")
        if raw is None:
            return None
        for code, year in raw["against"].items():
            if year not in self.editions[code]:
                self.no_edition("pack.toml", "authority / against", year, code)
        return Authority(raw["name"], raw["level"], raw["against"], raw.get("jurisdiction", ""))

    def amendment(self, file: str, raw: Mapping[str, Any]) -> Amendment:
        place = f'amend "{raw["id"]}"'
        verb = raw["do"]
        needs, may = FIELDS[verb]
        said = {k: v for k, v in raw.items() if k not in _OF_EVERY_AMENDMENT}
        lacks = sorted(needs - {*said, *({"inputs"} if "inputs" in raw else ())})
        if verb == "replace" and ("parameter" in said) == bool({"table", "row", "column"} <= said.keys()):
            lacks.append("parameter (or table, row and column)")
        if verb == "replace" and ("to" in said) == ("formula" in said):
            lacks.append("to (or formula)")
        if "section" in may:
            lacks += [] if "section" in said else [key for key in ("rule", "expects") if key not in said]
            if "section" in said and "rule" in said:
                self.complain(file, place, "names a rule and a section; keep one of them")
        if lacks:
            either = " (or a section)" if "rule" in lacks and "section" in may else ""
            self.complain(file, place, f"lacks {', '.join(lacks)}{either}, which `{verb}` needs")
        if "formula" in said and "parameter" not in said:
            self.complain(file, place, "reckons a cell of a table; only a figure can be reckoned by a formula")
        if "where" in said and "scope" not in said and "scope" not in lacks:
            self.complain(file, place, "has a condition and no words for it; say `scope`, such as \"arrays on a roof\"")
        for key in sorted({*said, *({"inputs"} if "inputs" in raw else ())} - needs - may):
            self.complain(file, place, f"has `{key}`, with which `{verb}` does nothing; leave it out")
        work = self.cited(file, place, raw)
        self.sources_known(file, place, [raw["read"]])
        if raw.get("begins", "") > raw.get("ends", "9999"):
            self.complain(file, place, f"ends before it begins (ends {raw['ends']}, begins {raw['begins']})")
        for text in ("words", "title", "scope", "says", "to"):
            if text != "says" and set(said.get(text, "")) & set("{}"):
                self.complain(file, place, f"has a curly bracket in `{text}`; leave it out")
        examples = tuple((named or raw.get("rule", raw["id"]), e) for named, e in self.tests(file, raw["id"]))
        return Amendment(raw["id"], verb, said, raw.get("inputs", {}), raw["why"], work.title, raw["clause"],
                         raw["read"], raw.get("begins", ""), raw.get("ends", ""), examples, file,
                         tuple(raw.get("rules", ())), verb != "adopt" and raw.get("rules") == [])  # fmt: skip

    def adoption(self, file: str, raw: Mapping[str, Any]) -> Adoption:
        editions = {code: raw[code] for code in CODES if code in raw}
        of = {path.removeprefix("/"): tuple(values) for path, values in raw.get("of", {}).items()}
        fields = part_types()[""].fields
        for path, values in of.items():
            if path not in fields:
                said = f'is of houses by "{path}", which is no fact of the whole; {nearest(path, fields)}'
                self.complain(file, f'adoption "{raw["begins"]}"', said)
            elif fields[path].choices and (wrong := [v for v in values if v not in fields[path].choices]):
                said = f'is of houses whose {fields[path].title} is "{wrong[0]}"; '
                known = nearest(str(wrong[0]), map(str, fields[path].choices))
                self.complain(file, f'adoption "{raw["begins"]}"', said + known)
        return Adoption(raw["begins"], editions, tuple(raw.get("layers", ())), raw.get("choice_until", ""),
                        raw["ordinance"], file, of, raw.get("by", "application"), raw.get("follows", ""),
                        raw.get("as_of", ""))  # fmt: skip

    # --- examples ----------------------------------------------------------------------------------------

    def tests(self, file: str, key: str) -> Iterator[tuple[str, Example]]:
        """The examples of a rule or change of a file, each with the rule that it names, or ""."""
        beside = beside_of(file)
        about = self.sifted.examples.get(beside, {}).get(key, {})
        for i, raw in enumerate(about.get("example", ()), 1):
            yield raw.get("rule", ""), self.example(beside, f'examples "{key}" / example / {i}', about, raw)

    def given(self, file: str, key: str) -> Mapping[str, object]:
        """What all examples of a rule say of the house."""
        out: Mapping[str, object] = self.sifted.examples.get(beside_of(file), {}).get(key, {}).get("set", {})
        return out

    def example(self, file: str, place: str, about: Mapping[str, Any], e: Mapping[str, Any]) -> Example:
        if ("verdict" in e) == ("limit" in e):
            self.complain(file, place, "has either a `verdict` or a `limit`, and not both")
        limit = e.get("limit", {})
        house = e.get("house", "")
        shared = {} if house else about
        figures = {} if e.get("verdict") == "" else {**shared.get("figures", {}), **e.get("figures", {})}
        given = {**shared.get("set", {}), **e.get("set", {})}
        return Example(e.get("says", ""), tuple(e.get("editions", ())), given,
                       e.get("source", about.get("source", OWN)), e.get("verdict"), limit.get("of", ""),
                       limit.get("at"), limit.get("step"), limit.get("passes", ""), figures,
                       e.get("worked", ""), house)  # fmt: skip

    def strangers(self) -> None:
        """Complains of examples of nothing that the file beside them holds."""
        for name, about in self.sifted.examples.items():
            if name not in self.sifted.ids:
                self.complain(name, "", f'has examples, but there is no "{name.removesuffix(EXAMPLES)}.toml" beside it')
                continue
            known = self.sifted.ids[name]
            for key in () if known is None else about.keys() - known:
                said = f'is of no rule or change of "{name.removesuffix(EXAMPLES)}.toml"; {nearest(key, known or ())}'
                self.complain(name, f'examples "{key}"', said)

    def once(self, file: str, kind: str, into: dict[str, Any], key: str, record: Any) -> None:
        if key in into:
            self.complain(file, f'{kind} "{key}", the second', "is defined twice in this pack; keep one")
        into[key] = record

    def years(self, file: str, place: str, raw: Mapping[str, str], code: str) -> ByEdition:
        for year in raw:
            if int(year) not in self.editions[code]:
                self.no_edition(file, place, int(year), code)
        return ByEdition({int(year): text for year, text in raw.items()})

    def text(self, file: str, place: str, raw: str | Mapping[str, str], code: str) -> ByEdition:
        return ByEdition({0: raw}) if isinstance(raw, str) else self.years(file, place, raw, code)

    def no_edition(self, file: str, place: str, year: int, code: str) -> None:
        if self.sure("pack/editions", "pack/building_editions"):
            listed = ", ".join(map(str, self.editions[code])) or f"none of the {CODES[code]}"
            self.complain(file, place, f"speaks of edition {year}, which the pack does not list; it lists {listed}")

    def sources_known(self, file: str, place: str, keys: Iterable[str]) -> None:
        for key in keys:
            if key not in self.sources and self.sure("pack/sources"):
                self.complain(file, place, f'names the source "{key}"; {nearest(key, self.sources)}')
                self.sources[key] = Source(key, "", "", "")

    def cited(self, file: str, place: str, raw: Mapping[str, Any]) -> Work:
        """The work that is cited: the one named, or the pack's usual one."""
        key = raw.get("work", self.work)
        if not self.sure("pack/works", "pack/work"):
            return self.works.get(key, Work("", ELECTRICAL))
        if not key:
            if not self.workless:
                self.complain(file, place, "names no work, and the pack has no usual one; say `work` in [pack]")
            self.workless = True
        elif key not in self.works and "work" in raw:
            self.complain(file, place, f'cites the work "{key}"; {nearest(key, self.works)}')
        return self.works.get(key, Work("", ELECTRICAL))

    def citation(self, file: str, place: str, raw: Mapping[str, Any]) -> Citation:
        work = self.cited(file, place, raw)
        read = raw["read"]
        if isinstance(read, str):
            if read not in self.readings:
                self.complain(file, place, f'names the reading "{read}"; {nearest(read, self.readings)}')
            read = self.readings.get(read, {})
        else:
            self.sources_known(file, place, read.values())
        clause, read = (self.years(file, place, by, work.code) for by in (raw["clause"], read))
        return Citation(work, clause, read, raw.get("stated", ""), raw.get("when", ""))

    def parameter(self, file: str, raw: Mapping[str, Any]) -> Parameter:
        place = f'parameter "{raw["name"]}"'
        citation = self.citation(file, place, raw)
        return Parameter(raw["name"], raw["meaning"], raw["unit"], raw["stricter"],
                         self.years(file, place, raw["value"], citation.work.code), citation,
                         raw.get("note", ""))  # fmt: skip

    def table(self, file: str, raw: Mapping[str, Any]) -> TableSpec:
        place = f'table "{raw["name"]}"'
        citation = self.citation(file, place, raw)
        files = self.years(file, place, raw["file"], citation.work.code)
        header = raw["row"]["header"]
        rows = {}
        for csv_name in files.texts.values():
            if csv_name not in self.sifted.rows or header not in self.sifted.rows[csv_name][0]:
                self.sifted.dropped.add(raw["name"])
            if csv_name not in self.sifted.rows:
                self.complain(file, place, f'names the file "{csv_name}"; {nearest(csv_name, self.sifted.rows)}')
            elif header not in self.sifted.rows[csv_name][0]:
                self.complain(csv_name, "line 1", f'has no column "{header}", which {place} asks for')
            else:
                rows[csv_name] = self.sifted.rows[csv_name]
        return TableSpec(raw["name"], raw["meaning"], files, rows,
                         raw["row"]["match"], header, raw["row"].get("unit"),
                         tuple((c["name"], c.get("unit")) for c in raw.get("conditions", ())),
                         raw.get("unit"), raw.get("beyond", "not known"), citation)  # fmt: skip

    def derived(self, file: str, raw: Mapping[str, Any]) -> Derived:
        cases = [Case(c.get("when", ""), c["value"], c.get("let", {}), c.get("says", "")) for c in raw.get("case", ())]
        if ("value" in raw) == bool(cases):
            self.complain(file, f'derived "{raw["name"]}"', "has either one `value` or several `case`, and not both")
        if "value" in raw:
            cases = [Case("", raw["value"], raw.get("let", {}))]
        return Derived(raw["name"], raw["meaning"], raw["each"], raw.get("unit"), raw["inputs"], tuple(cases))

    def rule(self, file: str, raw: Mapping[str, Any]) -> Rule:
        place = f'rule "{raw["id"]}"'
        ways = tuple(Alternative(w["name"], w["holds"], w["says"], w.get("begins"), w.get("withdrawn"))
                     for w in raw.get("way", ()))  # fmt: skip
        if ("holds" in raw) == bool(ways):
            self.complain(file, place, "has either one `holds` or several `way`, and not both")
        tests = tuple(self.tests(file, raw["id"]))
        examples = tuple(example for _, example in tests)
        if not examples and self.sure("examples"):
            self.complain(file, place, f'has no examples; put some into "{beside_of(file)}"')
        if any(named for named, _ in tests):
            self.complain(beside_of(file), f'examples "{raw["id"]}"', "names a rule; only examples of a change do")
        citations = tuple(self.citation(file, place, c) for c in raw["cite"])
        code = citations[0].work.code if citations else ELECTRICAL
        years = [raw.get("begins"), raw.get("withdrawn"), *(w.begins for w in ways), *(w.withdrawn for w in ways)]
        for year in [*years, *(year for e in examples for year in e.editions)]:
            if year is not None and year not in self.editions[code]:
                self.no_edition(file, place, year, code)
        if not citations:
            self.complain(file, place, "cites nothing; a finding without a clause can't be checked")
        words = {k: self.text(file, f"{place} / words / {k}", text, code) for k, text in raw.get("words", {}).items()}
        said = [self.text(file, place, raw[key], code) for key in ("passes", "fails", "remedy")]
        taken = {"each", "way", *raw["inputs"], *raw.get("let", {})}
        for key, fault in word_faults(words, said, taken):
            self.complain(file, f"{place} / words / {key}", fault)
        passes, fails, remedy = (with_words(sentence, words) for sentence in said)
        return Rule(
            raw["id"], raw["title"], raw["family"], raw["force"], tuple(raw.get("covers", ())), raw["each"],
            raw.get("scope", ""), raw["inputs"], raw.get("let", {}), raw.get("applies", ""), raw.get("holds", ""),
            ways, passes, fails, remedy, raw.get("asks", ""), citations,
            raw.get("begins"), raw.get("withdrawn"), self.given(file, raw["id"]), examples, file,
            stage=raw.get("stage", ""), cure=raw.get("cure", {}),
        )  # fmt: skip


_OF_EVERY_AMENDMENT = frozenset({"id", "do", "inputs", "why", "work", "clause", "read", "begins", "ends",
                                "rules"})  # fmt: skip

_PLACE = re.compile(r'(?:rule|amend|parameter|table|derived) "([^"]+)"')


def _without(pack: Pack, names: set[str]) -> Pack:
    """A pack without what of it has faults."""

    def left(of: Mapping[str, T]) -> dict[str, T]:
        return {key: one for key, one in of.items() if key not in names}

    return attrs.evolve(pack, rules=left(pack.rules), parameters=left(pack.parameters), tables=left(pack.tables),
                        derived=left(pack.derived), amendments=tuple(a for a in pack.amendments if a.id not in names),
                        )  # fmt: skip
