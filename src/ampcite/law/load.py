"""A pack folder (TOML and CSV, nothing else) becomes records; every fault in it is reported at once."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

import tomli

from ampcite.base.editions import BUILDING, CODES, ELECTRICAL, ByEdition
from ampcite.base.errors import Complaint, PackError, nearest
from ampcite.law.changes import FIELDS, Adoption, Amendment, Authority
from ampcite.law.files import EXAMPLES, content, digest
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
from ampcite.law.sentences import with_words, word_faults
from ampcite.law.shape import shape_faults

OWN = "own invention"
"""The source of an example that names none."""


def load_pack(where: Path) -> Pack:
    """The pack in a folder or zip file.

    Raises:
        PackError: with every fault found, each with its file and place.
    """
    return _Loader(where).load()


class _Loader:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.complaints: list[Complaint] = []
        self.rows: dict[str, tuple[tuple[str, ...], ...]] = {}
        self.examples: dict[str, dict[str, Any]] = {}

    def complain(self, file: str, place: str, said: str) -> None:
        self.complaints.append(Complaint(str(self.folder / file) if file else str(self.folder), place, said))

    def load(self) -> Pack:
        files = content(self.folder)
        values: list[tuple[str, dict[str, Any]]] = []
        for name, data in files.items():
            if name.endswith(".toml"):
                value = self.toml(name, data)
                if value is not None:
                    values.append((name, value))
            else:
                self.csv(name, data)
        self.stop()
        for name, value in values:
            self.shape(name, value)
        self.stop()
        self.examples = {name: value for name, value in values if name.endswith(EXAMPLES)}
        values = [(name, value) for name, value in values if not name.endswith(EXAMPLES)]
        whole = next(value for _, value in values if "pack" in value)
        out = self.records(whole, values, digest(files))
        self.stop()
        return out

    def stop(self) -> None:
        if self.complaints:
            raise PackError(self.complaints)

    def toml(self, name: str, data: bytes) -> dict[str, Any] | None:
        if _long_key(data):
            self.complain(name, "", f"has a key of more than {MOST_STEPS} words joined by stops")
            return None
        try:
            return tomli.loads(data.decode("utf-8-sig"))
        except (ValueError, RecursionError) as fault:
            self.complain(name, "", f"is not TOML: {str(fault)[:200]}")
            return None

    def csv(self, file: str, data: bytes) -> None:
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError:
            return self.complain(file, "", "is not UTF-8 text")
        try:
            rows = tuple(tuple(cell.strip() for cell in row) for row in csv.reader(io.StringIO(text)) if row)
        except csv.Error as fault:
            return self.complain(file, "", f"can't be read as CSV: {fault}")
        if len(rows) < 2:
            return self.complain(file, "", "has no rows under its header")
        for name in [name for name, times in Counter(rows[0]).items() if times > 1]:
            self.complain(file, "line 1", f'has the column "{name[:60]}" twice')
        for i, row in enumerate(rows, 1):
            if len(row) != len(rows[0]):
                self.complain(file, f"line {i}", f"has {len(row)} cells; the header has {len(rows[0])}")
        self.rows[file] = rows

    def shape(self, name: str, value: dict[str, Any]) -> None:
        if name != "pack.toml" and not name.endswith(EXAMPLES):
            for key in ("pack", "authority"):
                if key in value:
                    self.complain(name, key, "belongs in pack.toml; move it there")
        elif name == "pack.toml" and "pack" not in value:
            self.complain(name, "", "lacks the table [pack], the head of the pack")
        for place, said in shape_faults(value, examples=name.endswith(EXAMPLES)):
            self.complain(name, place, said)

    # --- records -----------------------------------------------------------------------------------------

    def records(self, whole: dict[str, Any], values: list[tuple[str, dict[str, Any]]], content_digest: str) -> Pack:
        head = whole["pack"]
        works = {k: {"title": v} if isinstance(v, str) else v for k, v in head["works"].items()}
        self.works = {k: Work(k, v["title"], v.get("code", ELECTRICAL), v.get("force", "code"))
                      for k, v in works.items()}  # fmt: skip
        self.sources = {k: Source(k, v["title"], v["body"], v["year"], v.get("note", ""))
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
                self.once(name, parameters, raw["name"], self.parameter(name, raw))
            for raw in value.get("table", ()):
                self.once(name, tables, raw["name"], self.table(name, raw))
            for raw in value.get("derived", ()):
                self.once(name, derived, raw["name"], self.derived(name, raw))
            for raw in value.get("rule", ()):
                self.once(name, rules, raw["id"], self.rule(name, raw))
            for raw in value.get("amend", ()):
                self.once(name, amendments, raw["id"], self.amendment(name, raw))
            adoptions += [self.adoption(name, raw) for raw in value.get("adoption", ())]
            if "letter" in value:
                self.once(name, letter, "letter", value["letter"])
        self.strangers(values)
        for key in amendments.keys() & rules.keys():
            self.complain(amendments[key].file, f'amend "{key}"', "has the id of a rule of this pack; choose another")
        if authority is None and (amendments or adoptions or letter):
            said = "has no [authority]; a pack that changes or adopts law, or shapes letters, says who speaks"
            self.complain("pack.toml", "", said)
        if bool(authority) != bool(head.get("amends")):
            self.complain("pack.toml", "", "has only one of [authority] and `amends`; a layer of local law has both")
        return Pack(head["name"], head["title"], head["version"], self.editions,
                    tuple(head.get("needs", ())), self.works, self.sources,
                    parameters, tables, derived, rules, content_digest, str(self.folder),
                    head.get("order", 100), tuple(head.get("amends", ())), authority, tuple(amendments.values()),
                    tuple(sorted(adoptions, key=lambda a: a.begins)), letter.get("letter", {}))  # fmt: skip

    def authority(self, whole: Mapping[str, Any]) -> Authority | None:
        raw = whole.get("authority")
        if raw is None:
            return None
        for code, year in raw["against"].items():
            if year not in self.editions[code]:
                self.complain("pack.toml", "authority / against", self.no_edition(year, code))
        return Authority(raw["name"], raw["level"], raw["against"])

    def amendment(self, file: str, raw: Mapping[str, Any]) -> Amendment:
        place = f'amend "{raw["id"]}"'
        verb = raw["do"]
        needs, may = FIELDS[verb]
        said = {k: v for k, v in raw.items() if k not in _OF_EVERY_AMENDMENT}
        lacks = sorted(needs - {*said, *({"inputs"} if "inputs" in raw else ())})
        if verb == "replace" and ("parameter" in said) == bool({"table", "row", "column"} <= said.keys()):
            lacks.append("parameter (or table, row and column)")
        if lacks:
            self.complain(file, place, f"lacks {', '.join(lacks)}, which `{verb}` needs")
        for key in sorted({*said, *({"inputs"} if "inputs" in raw else ())} - needs - may):
            self.complain(file, place, f"has `{key}`, with which `{verb}` does nothing; leave it out")
        work = self.cited(file, place, raw)
        self.sources_known(file, place, [raw["read"]])
        if raw.get("begins", "") > raw.get("ends", "9999"):
            self.complain(file, place, "ends before it begins")
        for text in ("words", "title", "scope", "says", "to"):
            if text != "says" and set(said.get(text, "")) & set("{}"):
                self.complain(file, place, f"has a curly bracket in `{text}`")
        examples = tuple((named or raw.get("rule", raw["id"]), e) for named, e in self.tests(file, raw["id"]))
        return Amendment(raw["id"], verb, said, raw.get("inputs", {}), raw["why"], work.title, raw["clause"],
                         raw["read"], raw.get("begins", ""), raw.get("ends", ""), examples, file)  # fmt: skip

    def adoption(self, file: str, raw: Mapping[str, Any]) -> Adoption:
        editions = {code: raw[code] for code in CODES if code in raw}
        return Adoption(raw["begins"], editions, tuple(raw.get("layers", ())), raw.get("choice_until", ""),
                        raw["ordinance"])  # fmt: skip

    # --- examples ----------------------------------------------------------------------------------------

    def tests(self, file: str, key: str) -> Iterator[tuple[str, Example]]:
        """The examples of a rule or change of a file, each with the rule that it names, or ""."""
        beside = _beside(file)
        about = self.examples.get(beside, {}).get(key, {})
        for i, raw in enumerate(about.get("example", ()), 1):
            yield raw.get("rule", ""), self.example(beside, f'examples "{key}" / example / {i}', about, raw)

    def given(self, file: str, key: str) -> Mapping[str, object]:
        """What all examples of a rule say of the house."""
        out: Mapping[str, object] = self.examples.get(_beside(file), {}).get(key, {}).get("set", {})
        return out

    def example(self, file: str, place: str, about: Mapping[str, Any], e: Mapping[str, Any]) -> Example:
        if ("verdict" in e) == ("limit" in e):
            self.complain(file, place, "has either a `verdict` or a `limit`, and not both")
        limit = e.get("limit", {})
        figures = {} if e.get("verdict") == "" else {**about.get("figures", {}), **e.get("figures", {})}
        return Example(e.get("says", ""), tuple(e.get("editions", ())), {**about.get("set", {}), **e.get("set", {})},
                       e.get("source", about.get("source", OWN)), e.get("verdict"), limit.get("of", ""),
                       limit.get("at"), limit.get("step"), limit.get("passes", ""), figures,
                       e.get("worked", ""))  # fmt: skip

    def strangers(self, values: Sequence[tuple[str, Mapping[str, Any]]]) -> None:
        """Complains of examples of nothing that the file beside them holds."""
        known = {_beside(name): [raw["id"] for kind in ("rule", "amend") for raw in value.get(kind, ())]
                 for name, value in values}  # fmt: skip
        for name, about in self.examples.items():
            if name not in known:
                self.complain(name, "", f'has examples, but there is no "{name.removesuffix(EXAMPLES)}.toml" beside it')
                continue
            for key in about.keys() - known[name]:
                said = f'is of no rule or change of "{name.removesuffix(EXAMPLES)}.toml"; {nearest(key, known[name])}'
                self.complain(name, f'examples "{key}"', said)

    def once(self, file: str, into: dict[str, Any], key: str, record: Any) -> None:
        if key in into:
            self.complain(file, key, "is defined twice in this pack; keep one")
        into[key] = record

    def years(self, file: str, place: str, raw: Mapping[str, str], code: str) -> ByEdition:
        for year in raw:
            if int(year) not in self.editions[code]:
                self.complain(file, place, self.no_edition(int(year), code))
        return ByEdition({int(year): text for year, text in raw.items()})

    def text(self, file: str, place: str, raw: str | Mapping[str, str], code: str) -> ByEdition:
        return ByEdition({0: raw}) if isinstance(raw, str) else self.years(file, place, raw, code)

    def no_edition(self, year: int, code: str) -> str:
        listed = ", ".join(map(str, self.editions[code])) or f"none of the {CODES[code]}"
        return f"speaks of edition {year}, which the pack does not list; it lists {listed}"

    def sources_known(self, file: str, place: str, keys: Iterable[str]) -> None:
        for key in keys:
            if key not in self.sources:
                self.complain(file, place, f'names the source "{key}"; {nearest(key, self.sources)}')

    def cited(self, file: str, place: str, raw: Mapping[str, Any]) -> Work:
        """The work that is cited: the one named, or the pack's usual one."""
        key = raw.get("work", self.work)
        if not key:
            self.complain(file, place, "names no work, and the pack has no usual one (`work` in [pack])")
        elif key not in self.works and "work" in raw:
            self.complain(file, place, f'cites the work "{key}"; {nearest(key, self.works)}')
        return self.works.get(key, Work("", "", ELECTRICAL))

    def citation(self, file: str, place: str, raw: Mapping[str, Any]) -> Citation:
        work = self.cited(file, place, raw)
        read = raw["read"]
        if isinstance(read, str):
            if read not in self.readings:
                self.complain(file, place, f'names the reading "{read}"; {nearest(read, self.readings)}')
            read = self.readings.get(read, {})
        else:
            self.sources_known(file, place, read.values())
        return Citation(work, self.years(file, place, raw["clause"], work.code),
                        self.years(file, place, read, work.code), raw.get("stated", ""))  # fmt: skip

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
            if csv_name not in self.rows:
                self.complain(file, place, f'names the file "{csv_name}"; {nearest(csv_name, self.rows)}')
            elif header not in self.rows[csv_name][0]:
                self.complain(csv_name, "line 1", f'has no column "{header}", which {place} asks for')
            else:
                rows[csv_name] = self.rows[csv_name]
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
        if not examples:
            self.complain(file, place, f'has no examples; put some into "{_beside(file)}"')
        if any(named for named, _ in tests):
            self.complain(_beside(file), f'examples "{raw["id"]}"', "names a rule; only examples of a change do")
        citations = tuple(self.citation(file, place, c) for c in raw["cite"])
        code = citations[0].work.code if citations else ELECTRICAL
        years = [raw.get("begins"), raw.get("withdrawn"), *(w.begins for w in ways), *(w.withdrawn for w in ways)]
        for year in [*years, *(year for e in examples for year in e.editions)]:
            if year is not None and year not in self.editions[code]:
                self.complain(file, place, self.no_edition(year, code))
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


MOST_STEPS = 32
_TOKEN = re.compile(
    rb'''#[^\n]*|"""(?:\\.|[^\\])*?"""|\'\'\'.*?\'\'\'|("(?:\\.|[^"\\\n])*"|'[^'\n]*'|[A-Za-z0-9_-]+)'''
    rb"|([ \t]+)|(\.)|.",
    re.DOTALL,
)
"""Of TOML, as far as its keys are concerned: comments and long texts; words (1); blanks (2); stops (3); all else."""


def _long_key(data: bytes) -> bool:
    """Whether a key has so many steps that reading it would take the square of their number."""
    if not any(line.count(b".") > MOST_STEPS for line in data.split(b"\n")):
        return False
    steps = 0
    for token in _TOKEN.finditer(data):
        if token.lastindex is None:
            steps = 0
        elif token.lastindex == 3:
            steps += 1
        if steps > MOST_STEPS:
            return True
    return False


_OF_EVERY_AMENDMENT = frozenset({"id", "do", "inputs", "why", "work", "clause", "read", "begins", "ends"})


def _beside(file: str) -> str:
    """The file with the examples of a TOML file."""
    return file.removesuffix(".toml") + EXAMPLES
