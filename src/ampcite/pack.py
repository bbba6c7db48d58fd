"""A pack folder (TOML and CSV, nothing else) becomes records; every fault in it is reported at once."""

from __future__ import annotations

import csv
import hashlib
import io
import tomllib
from collections.abc import Iterable, Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

from ampcite.errors import Complaint, PackError, nearest, short
from ampcite.model import load_schema
from ampcite.rule import (
    BUILDING,
    CODES,
    ELECTRICAL,
    ByEdition,
    Case,
    Citation,
    Derived,
    Example,
    Pack,
    Parameter,
    Rule,
    Source,
    TableSpec,
    Way,
    Work,
)

MAX_FILE = 4_000_000


def pack_files(folder: Path) -> list[Path]:
    """The files of a pack, in the order they are read."""
    return sorted(p for p in folder.iterdir() if p.suffix in (".toml", ".csv") and p.is_file())


def digest(folder: Path) -> str:
    """SHA-256 over the names and bytes of a pack's files. Raises PackError where the folder is no pack."""
    if not (folder / "pack.toml").is_file():
        raise PackError([Complaint(str(folder), "", 'has no "pack.toml"; a pack is a folder with one')])
    whole = hashlib.sha256()
    for path in pack_files(folder):
        data = path.read_bytes()
        whole.update(f"{path.name}\0{len(data)}\0".encode())
        whole.update(data)
    return whole.hexdigest()


def needs(folder: Path) -> tuple[str, ...]:
    """The names of the packs that a pack's head says it needs; none where the head can't be read (loading says why)."""
    try:
        found = tomllib.loads((folder / "pack.toml").read_text("utf-8"))["pack"]["needs"]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return ()
    return tuple(name for name in found if isinstance(name, str)) if isinstance(found, list) else ()


def load_pack(folder: Path) -> Pack:
    """The pack in a folder.

    Raises:
        PackError: with every fault found, each with its file and place.
    """
    return _Loader(folder).load()


@lru_cache(maxsize=1)
def _validator() -> Any:
    import jsonschema

    return jsonschema.Draft202012Validator(load_schema("pack.schema.json"))


class _Loader:
    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.complaints: list[Complaint] = []
        self.rows: dict[str, tuple[tuple[str, ...], ...]] = {}

    def complain(self, file: str, place: str, said: str) -> None:
        self.complaints.append(Complaint(str(self.folder / file) if file else str(self.folder), place, said))

    def load(self) -> Pack:
        content = digest(self.folder)
        files = pack_files(self.folder)
        values: list[tuple[str, dict[str, Any]]] = []
        for path in files:
            if path.stat().st_size > MAX_FILE:
                self.complain(path.name, "", f"is larger than the {MAX_FILE} bytes a pack's file may have")
            elif path.suffix == ".toml":
                value = self.toml(path)
                if value is not None:
                    values.append((path.name, value))
            else:
                self.csv(path)
        self.stop()
        for name, value in values:
            self.shape(name, value)
        self.stop()
        head = next(value["pack"] for _, value in values if "pack" in value)
        out = self.records(head, values, content)
        self.stop()
        return out

    def stop(self) -> None:
        if self.complaints:
            raise PackError(self.complaints)

    def toml(self, path: Path) -> dict[str, Any] | None:
        try:
            return tomllib.loads(path.read_text("utf-8"))
        except (ValueError, RecursionError) as fault:
            self.complain(path.name, "", f"is not TOML: {str(fault)[:200]}")
            return None

    def csv(self, path: Path) -> None:
        try:
            text = path.read_text("utf-8")
        except UnicodeDecodeError:
            return self.complain(path.name, "", "is not UTF-8 text")
        try:
            rows = tuple(tuple(cell.strip() for cell in row) for row in csv.reader(io.StringIO(text)) if row)
        except csv.Error as fault:
            return self.complain(path.name, "", f"can't be read as CSV: {fault}")
        if len(rows) < 2:
            return self.complain(path.name, "", "has no rows under its header")
        for name in {name for name in rows[0] if rows[0].count(name) > 1}:
            self.complain(path.name, "line 1", f'has the column "{name[:60]}" twice')
        for i, row in enumerate(rows, 1):
            if len(row) != len(rows[0]):
                self.complain(path.name, f"line {i}", f"has {len(row)} cells; the header has {len(rows[0])}")
        self.rows[path.name] = rows

    def shape(self, name: str, value: dict[str, Any]) -> None:
        schema = _validator().schema
        if name != "pack.toml":
            if "pack" in value:
                self.complain(name, "pack", "belongs in pack.toml; move it there")
            value = {"pack": _HEAD, **value}
        found = sorted(_validator().iter_errors(value), key=lambda e: [str(p) for p in e.absolute_path])
        for place, said in dict.fromkeys((_place(e.absolute_path, value), _word(e, schema)) for e in found):
            self.complain(name, place, said)

    # --- records -----------------------------------------------------------------------------------------

    def records(self, head: dict[str, Any], values: list[tuple[str, dict[str, Any]]], content: str) -> Pack:
        self.works = {k: Work(k, v, ELECTRICAL) if isinstance(v, str) else Work(k, v["title"], v["code"])
                      for k, v in head["works"].items()}  # fmt: skip
        self.sources = {k: Source(k, v["title"], v["body"], v["year"], v.get("note", ""))
                        for k, v in head["sources"].items()}  # fmt: skip
        self.editions = {ELECTRICAL: tuple(head["editions"]), BUILDING: tuple(head.get("building_editions", ()))}
        parameters: dict[str, Parameter] = {}
        tables: dict[str, TableSpec] = {}
        derived: dict[str, Derived] = {}
        rules: dict[str, Rule] = {}
        for name, value in values:
            for raw in value.get("parameter", ()):
                self.once(name, parameters, raw["name"], self.parameter(name, raw))
            for raw in value.get("table", ()):
                self.once(name, tables, raw["name"], self.table(name, raw))
            for raw in value.get("derived", ()):
                self.once(name, derived, raw["name"], self.derived(name, raw))
            for raw in value.get("rule", ()):
                self.once(name, rules, raw["id"], self.rule(name, raw))
        return Pack(head["name"], head["title"], head["version"], self.editions,
                    tuple(head.get("needs", ())), self.works, self.sources,
                    parameters, tables, derived, rules, content, str(self.folder),
                    head.get("order", 100))  # fmt: skip

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

    def citation(self, file: str, place: str, raw: Mapping[str, Any]) -> Citation:
        work = self.works.get(raw["work"], Work("", "", ELECTRICAL))
        if not work.key:
            self.complain(file, place, f'cites the work "{raw["work"]}"; {nearest(raw["work"], self.works)}')
        for key in raw["read"].values():
            if key not in self.sources:
                self.complain(file, place, f'names the source "{key}"; {nearest(key, self.sources)}')
        return Citation(work, self.years(file, place, raw["clause"], work.code),
                        self.years(file, place, raw["read"], work.code))  # fmt: skip

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
        ways = tuple(Way(w["name"], w["holds"], w["says"], w.get("begins"), w.get("withdrawn"))
                     for w in raw.get("way", ()))  # fmt: skip
        if ("holds" in raw) == bool(ways):
            self.complain(file, place, "has either one `holds` or several `way`, and not both")
        given = raw.get("given", {})
        examples = tuple(
            Example(
                e.get("says", ""), tuple(e.get("editions", ())), {**given, **e.get("set", {})}, e["source"],
                e.get("verdict"), e.get("vary", ""), e.get("at"), e.get("step"), e.get("passes", ""),
                e.get("figures", {}), e.get("worked", ""),
            )
            for e in raw["examples"]
        )  # fmt: skip
        citations = tuple(self.citation(file, place, c) for c in raw["cite"])
        code = citations[0].work.code if citations else ELECTRICAL
        years = [raw.get("begins"), raw.get("withdrawn"), *(w.begins for w in ways), *(w.withdrawn for w in ways)]
        for year in [*years, *(year for e in examples for year in e.editions)]:
            if year is not None and year not in self.editions[code]:
                self.complain(file, place, self.no_edition(year, code))
        if not citations:
            self.complain(file, place, "cites nothing; a finding without a clause can't be checked")
        for e in examples:
            if (e.verdict is None) != bool(e.vary and e.passes and e.at is not None and e.step is not None):
                self.complain(file, place, "has an example that neither states a verdict nor a limit "
                                           "(vary, at, step and passes)")  # fmt: skip
        return Rule(
            raw["id"], raw["title"], raw["family"], raw["force"], tuple(raw.get("covers", ())), raw["each"],
            raw.get("scope", ""), raw["inputs"], raw.get("let", {}), raw.get("applies", ""), raw.get("holds", ""),
            ways, self.text(file, place, raw["passes"], code), self.text(file, place, raw["fails"], code),
            self.text(file, place, raw["remedy"], code), raw.get("asks", ""), citations,
            raw.get("begins"), raw.get("withdrawn"), given, examples, file,
        )  # fmt: skip


_HEAD = {"name": "x", "title": "x", "version": "x", "editions": [2020], "works": {}, "sources": {}}


def _place(path: Iterable[Any], value: Any) -> str:
    """Where in a TOML file a fault is: ``rule "id" / examples / 2``."""
    steps: list[str] = []
    for step in path:
        try:
            value = value[step]
        except (KeyError, IndexError, TypeError):
            value = None
        if isinstance(step, int) and isinstance(value, dict) and ("id" in value or "name" in value):
            steps[-1] = f'{steps[-1]} "{str(value.get("id", value.get("name")))[:60]}"'
        else:
            steps.append(str(step + 1) if isinstance(step, int) else str(step))
    return " / ".join(steps)


def _word(error: Any, schema: Any) -> str:
    value, limit = error.instance, error.validator_value
    match error.validator:
        case "additionalProperties" if isinstance(value, dict) and "properties" in error.schema:
            known = error.schema["properties"]
            return "; ".join(f'"{k[:60]}" is not known here; {nearest(k, known)}' for k in value if k not in known)
        case "required":
            return f"lacks {', '.join(k for k in limit if k not in value)}"
        case "enum":
            return f"is {short(value)}; it is one of {', '.join(map(str, limit))}"
        case "pattern":
            how = error.schema.get("description", limit)[:80]
            return f"is {short(value)}, which is not written the way this is ({how})"
        case "type":
            by_edition = " such as { 2020 = ... }" if limit == "object" else ""
            return f"is {short(value)}; it should be of type {limit}{by_edition}"
        case "maxLength":
            return f"is {len(value)} characters long; at most {limit} are allowed"
        case _:
            return f"{short(value)} can't be used: {error.message[:160]}"
