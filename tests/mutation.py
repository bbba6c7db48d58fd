"""Changes every figure in the pack files by one unit in its last place, one at a time, and asks the tests to notice.

    python tests/mutation.py               every figure (a minute or two)
    python tests/mutation.py --sample 400  a sample, the same for the same files
    python tests/mutation.py --list        the figures, without running anything
    python tests/mutation.py FILE...       those of some pack files

A figure is a number that stands as a value: a cell of a CSV file, a bare number in a TOML file (limits, steps and
givens of examples, editions), a text that is a number or a quantity, and every number of a clause. A size or the like
that the schema lists ("12 AWG") gives way to its neighbours in the list, of which one must be noticed. Prose (titles,
notes, sentences of a finding, which by another test put figures in from parameters), the head of a pack (its version,
the years of its sources) and a layer's letters, which are no law, are not figures; what a layer of local law adopts,
and when, are. The score is the share of changes that some test notices; the exit status is 1 where that is less than
asked for (all of them, unless --least says another), 2 where the tests fail without any change.

What is asked of a change is what the tests ask of a pack: that it loads, the laws of ``test_laws.py`` on a rule, the
second typing of ``test_typed_twice.py``, and the examples of ``test_rule_examples.py``. All of it happens in this
process, with only what the change can reach: the changed table of the TOML file goes through the loader again, and a
rule's examples are tried against a rulebook of that rule and what it rests on.
"""

from __future__ import annotations

import argparse
import concurrent.futures
import hashlib
import multiprocessing
import os
import re
import sys
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Any

import attrs
import tomli

import test_laws
from ampcite.authoring.testing import Trial, faults, layer_trials, trials
from ampcite.base.editions import Editions
from ampcite.base.errors import AmpciteError, PackError
from ampcite.base.resources import load_schema
from ampcite.engine.bind import bind
from ampcite.engine.rulebook import Rulebook, rulebook_of
from ampcite.law.files import EXAMPLES, MARKS, content
from ampcite.law.load import _Loader
from ampcite.law.overlay import amend
from ampcite.law.records import Pack, Rule
from ampcite.law.registry import changed_by
from ampcite.law.sift import sift
from rulepacks import test_typed_twice as twice
from shared import PACKS, rests_on

ROOT = Path(__file__).resolve().parent.parent
NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?![\w]|\.\d)")
PROSE = re.compile(
    r"^\s*(?:title|meaning|note|passes|fails|remedy|says|scope|asks|why|words|family|id|version|covers)(?:\.[\w.]+)?\s*="
)
LONG = re.compile(r'=\s*"""')


@attrs.frozen
class Change:
    """One figure of one file, and the text (or, where that goes unnoticed, one of the others) that takes its place."""

    file: Path
    start: int
    stop: int
    old: str
    new: str
    line: int
    part: int
    others: tuple[str, ...] = ()

    def __str__(self) -> str:
        return f"{self.file.relative_to(ROOT)}:{self.line}: {self.old} -> {self.new}"


def one_more(text: str) -> str:
    """A decimal text with one unit more in its last place."""
    places = len(text.partition(".")[2])
    scaled = int(text.replace(".", "")) + 1
    sign, digits = ("-", -scaled) if scaled < 0 else ("", scaled)
    whole = str(digits).rjust(len(text) if text.isdigit() else places + 1, "0")
    return sign + (f"{whole[:-places]}.{whole[-places:]}" if places else whole)


@cache
def neighbours() -> Mapping[str, tuple[str, ...]]:
    """The sizes, voltages and the like that a description names from a list, each with its neighbours in the list."""
    out: dict[str, tuple[str, ...]] = {}
    waiting: list[Any] = [load_schema("description.schema.json")]
    for one in waiting:
        waiting += one.values() if isinstance(one, dict) else one if isinstance(one, list) else ()
        listed = one.get("enum") if isinstance(one, dict) else None
        words = [w for w in listed if re.match(r"\d[^ ]*[^\d.]", str(w))] if isinstance(listed, list) else []
        if len(words) > 1:
            out |= {w: (*words[i + 1 : i + 2], *words[max(0, i - 1) : i]) for i, w in enumerate(words)}
    return out


def changes() -> Iterator[Change]:
    """Every change there is."""
    for file in sorted(ROOT.glob("rulepacks/*/*")):
        if file.name == MARKS:
            continue  # held to the rules by a test of their own
        if file.suffix == ".csv":
            yield from _cells(file)
        elif file.name != "letter.toml":
            yield from _toml(file)


def _change(file: Path, text: str, start: int, stop: int, part: int = 0) -> Change:
    """``part`` is where the outermost table of a TOML file that holds the figure begins."""
    old = text[start:stop]
    quoted = text[start - 1] == '"' == text[stop] and old in neighbours()
    new, *others = neighbours()[old] if quoted else (one_more(old),)
    return Change(file, start, stop, old, new, text.count("\n", 0, start) + 1, part, tuple(others))


def _cells(file: Path) -> Iterator[Change]:
    text = file.read_text("utf-8")
    body = text.index("\n") + 1
    for found in re.finditer(r"(?:(?<=,)|(?<=\n))-?\d+(?:\.\d+)?(?=,|\n)", text[body - 1 :]):
        yield _change(file, text, body - 1 + found.start(), body - 1 + found.end())


def _toml(file: Path) -> Iterator[Change]:
    text = file.read_text("utf-8")
    place = 0
    long = False
    starts = parts(file)
    for line in text.splitlines(keepends=True):
        part = max((start for start in starts if start <= place), default=0)
        head = file.name == "pack.toml" and not text.startswith("[[adoption]]", part)
        inside = long or LONG.search(line) is not None
        long = inside and not line.rstrip().endswith('"""')
        if not head and not inside and not PROSE.match(line) and not line.startswith(("#", "[")):
            for start, stop in _figures(line):
                yield _change(file, text, place + start, place + stop, part)
        place += len(line)


def _figures(line: str) -> Iterator[tuple[int, int]]:
    """Where figures stand in a line: bare numbers that are no keys, and figures inside texts that may hold them."""
    at = 0
    for quoted in [*re.finditer(r'"[^"]*"', line), None]:
        bare = line[at : quoted.start() if quoted else len(line)]
        for found in NUMBER.finditer(bare):
            if not re.match(r"\s*=", bare[found.end() :]):
                yield at + found.start(), at + found.end()
        if quoted is None:
            return
        before = line[: quoted.start()]
        inside = quoted.group()[1:-1]
        key = re.search(r'([\w"/-]+)\s*=\s*$', before)
        name = key.group(1).strip('"') if key else ""
        is_key = line[quoted.end() :].lstrip().startswith("=")
        if name in ("source", "says", "model", "read"):
            pass
        elif inside in neighbours() and not is_key and not name.isdigit():
            yield quoted.start() + 1, quoted.end() - 1
        elif not is_key and (name.isdigit() or re.fullmatch(r"-?\d[\d./ A-Za-z%-]*", inside)):
            if "read" in before.rpartition("{")[0][-8:] or before.startswith("read."):
                at = quoted.end()
                continue
            for found in re.finditer(r"(?<![\w])-?\d+(?:\.\d+)?" if not name.isdigit() else r"\d+(?:\.\d+)?", inside):
                yield quoted.start() + 1 + found.start(), quoted.start() + 1 + found.end()
        at = quoted.end()


@attrs.frozen
class Changed:
    """A pack with the records of one part of a file made anew, and what they are.

    Attributes:
        kind: "parameter", "table", "derived", "rule", "amend" or "adoption".
        names: the names of the records that the part, or the CSV file, is of.
    """

    pack: Pack
    kind: str
    names: tuple[str, ...]


@cache
def files(folder: Path) -> Mapping[str, bytes]:
    """The bytes of a pack's files, read once."""
    return content(folder)


@cache
def rows(folder: Path) -> Mapping[str, Any]:
    """The cells of a pack's CSV files."""
    return sift(folder, {name: data for name, data in files(folder).items() if name.endswith(".csv")}).rows


@cache
def values(folder: Path, name: str) -> dict[str, Any]:
    """What a TOML file of a pack says."""
    return tomli.loads(files(folder)[name].decode())


@cache
def parts(file: Path) -> tuple[int, ...]:
    """Where the outermost tables of a TOML file begin, in a file of examples those of each rule, and the file's end."""
    text = files(file.parent)[file.name].decode()
    if not file.name.endswith(EXAMPLES):
        return (*(found.start() for found in re.finditer(r"(?m)^\[\[[^.\n]*\]\]", text)), len(text))
    first: dict[str, int] = {}
    for found in re.finditer(r"(?m)^\[+([^.\]\n]+)", text):
        first.setdefault(found[1], found.start())
    return (*first.values(), len(text))


def changed(change: Change) -> Changed:
    """The pack as a change leaves it: the loader reads the part of the file that changes, and keeps all else.

    Raises:
        PackError: when the loader refuses it.
    """
    folder, name = change.file.parent, change.file.name
    text = files(folder)[name].decode()
    new = text[: change.start] + change.new + text[change.stop :]
    found: list[tuple[str, dict[str, Any]]]
    loader = _Loader(folder)

    def read(data: bytes) -> dict[str, Any]:
        """What a file, or part of it, says; refused where the schema has something against it."""
        loader.sifted = sift(folder, {name: data})
        loader.sifted.rows = {**rows(folder), **loader.sifted.rows}
        stop(loader)
        return loader.sifted.examples.get(name) or dict(loader.sifted.tables).get(name, {})

    old = PACKS[folder.name]
    whole = values(folder, "pack.toml")
    if name == "pack.toml":
        whole = read(new.encode())
        found = [(name, {"adoption": whole["adoption"]})]
        kind, names = "adoption", (old.name,)
    elif name.endswith(".csv"):
        read(new.encode())
        specs = {t.name for t in old.tables.values() if name in t.rows}
        where = {raw["name"]: (file, raw) for file in files(folder) if file.endswith(".toml")
                 for raw in values(folder, file).get("table", ()) if raw["name"] in specs}  # fmt: skip
        found = [(file, {"table": [raw]}) for file, raw in where.values()]
        kind, names = "table", tuple(where)
    else:
        end = min(place for place in parts(change.file) if place > change.part)
        end += len(new) - len(text)
        value = read(new[change.part : end].encode())
        assert len(value) == 1
        if name.endswith(EXAMPLES):
            (one,) = value
            name, beside = name.removesuffix(EXAMPLES) + ".toml", name
            loader.sifted.examples = {beside: value}
            value = {k: [raw] for k, raws in values(folder, name).items() for raw in raws if raw.get("id") == one}
        kind, (raw,) = next(iter(value.items()))
        names = (raw.get("id", raw.get("name", "")),)
        beside = name.removesuffix(".toml") + EXAMPLES
        if "id" in raw and not loader.sifted.examples and beside in files(folder):
            loader.sifted.examples = {beside: {k: v for k, v in values(folder, beside).items() if k == raw["id"]}}
        found = [(name, value)]
    loader.sifted.ids = dict.fromkeys(loader.sifted.examples)
    made = loader.records(whole, found, old.digest)
    stop(loader)
    amendments = {a.id: a for a in (*old.amendments, *made.amendments)}
    pack = attrs.evolve(
        old, parameters={**old.parameters, **made.parameters}, tables={**old.tables, **made.tables},
        derived={**old.derived, **made.derived}, rules={**old.rules, **made.rules},
        amendments=tuple(amendments.values()), adoptions=made.adoptions or old.adoptions,
    )  # fmt: skip
    return Changed(pack, kind, names)


def stop(loader: _Loader) -> None:
    if loader.sifted.complaints:
        raise PackError(loader.sifted.complaints)


def alone(one: Rule, packs: list[Pack], editions: Editions) -> Rulebook:
    """The rulebook of one rule of the first of some packs, and of what it rests on in all of them."""
    names = rests_on(packs, one)
    own = [attrs.evolve(_only(pack, names), rules={one.id: one} if pack is packs[0] else {}) for pack in packs]
    return rulebook_of(bind(own, editions))


def _named(name: str) -> Pack:
    return next(pack for pack in PACKS.values() if pack.name == name)


def _with_needed(pack: Pack) -> list[Pack]:
    """A pack, and those it needs."""
    out = [pack]
    for one in out:
        out += [p for p in map(_named, one.needs) if p.name not in {o.name for o in out}]
    return out


def _only(pack: Pack, names: set[str]) -> Pack:
    """A pack without the figures, tables and quantities that are not named."""
    return attrs.evolve(
        pack,
        parameters={k: v for k, v in pack.parameters.items() if k in names},
        tables={k: v for k, v in pack.tables.items() if k in names},
        derived={k: v for k, v in pack.derived.items() if k in names},
    )


@cache
def usual(pack: str, rule: str, editions: tuple[tuple[str, int], ...]) -> Rulebook:
    """The rulebook of a rule as it is."""
    return alone(PACKS[pack].rules[rule], _with_needed(PACKS[pack]), dict(editions))


@cache
def known_trials(pack: str, rule: str) -> tuple[Trial, ...]:
    return tuple(trials(PACKS[pack], PACKS[pack].rules[rule]))


# --- what the tests ask of a part -----------------------------------------------------------------------------


def asked(new: Changed) -> Iterator[tuple[str, Callable[[], None]]]:
    """What the tests ask of the part that changes, the cheap first; each raises where the answer is wrong."""
    pack, folder = new.pack, Path(new.pack.folder).name
    for name in new.names:
        if new.kind == "parameter":
            parameter = pack.parameters[name]
            typed = [row for row in twice.FIGURES if (row["pack"], row["name"]) == (folder, name)]
            yield "second typing", lambda p=parameter, t=typed: _all(twice.agree_on_figure, [(p, r) for r in t])
        if new.kind == "table":
            yield "second typing", lambda t=pack.tables[name]: twice.agree_on_table(t)
            typed = [row for row in twice.TABLE_CLAUSES if (row["pack"], row["table"]) == (folder, name)]
            clauses = [(pack.tables[name], row) for row in typed]
            yield "second typing", lambda c=clauses: _all(twice.agree_on_clause_of_table, c)
        if new.kind == "rule":
            rule = pack.rules[name]
            yield "laws", lambda r=rule: test_laws.complete(pack, r)
            clauses = [row for row in twice.CLAUSES if row["rule"] == name]
            yield "second typing", lambda r=rule, t=clauses: _all(twice.agree_on_clause, [(r, row) for row in t])
            others = [row for row in twice.OTHER_CLAUSES if row["rule"] == name]
            yield "second typing", lambda r=rule, t=others: _all(twice.agree_on_other_clause, [(r, row) for row in t])
            if not pack.authority:
                yield "examples", lambda r=rule: try_rule(pack, r)
        if new.kind == "adoption":
            yield "second typing", lambda: twice.agree_on_adoptions(pack)
        if new.kind == "amend":
            examples = [example for a in pack.amendments if a.id == name for _, example in a.tests]
            yield "laws", lambda e=examples: test_laws.a_step_is_one_unit(e)
        local = [row for row in twice.LOCAL if (row["pack"], row["name"]) == (folder, name)]
        yield "second typing", lambda t=local: _all(twice.agree_on_local_clause, [(pack, row) for row in t])
    if pack.authority:
        yield "examples", lambda: try_layer(pack, new.names)
    elif new.kind != "rule":
        yield "examples", lambda: try_dependents(pack, set(new.names))


def _all(agree: Callable[..., None], rows: list[tuple[Any, ...]]) -> None:
    for row in rows:
        agree(*row)


def try_rule(pack: Pack, rule: Rule) -> None:
    """Runs those of a rule's trials that the change reaches."""
    folder = Path(pack.folder).name
    old = PACKS[folder].rules[rule.id]
    only_examples = attrs.evolve(rule, examples=(), given={}) == attrs.evolve(old, examples=(), given={})
    todo = list(trials(pack, rule))
    if not only_examples:
        books: dict[tuple[tuple[str, int], ...], Rulebook] = {}
        latest = {code: max(years) for code, years in pack.editions.items() if years}
        for edition in pack.editions[rule.code]:
            editions = {**latest, rule.code: edition}
            books[tuple(editions.items())] = alone(rule, _with_needed(pack), editions)
        for trial in todo:
            assert not faults(books[tuple(trial.editions.items())], trial)
        return
    before = known_trials(folder, rule.id)
    same = len(todo) == len(before)
    for i, trial in enumerate(todo):
        if not same or trial != before[i]:
            assert not faults(usual(folder, rule.id, tuple(trial.editions.items())), trial)


def try_dependents(pack: Pack, names: set[str]) -> None:
    """Runs the trials of the rules that rest on changed figures, tables or quantities, in all packs that use them."""
    folder = Path(pack.folder).name
    after = {**PACKS, folder: pack}
    for other in after.values():
        packs = [after[Path(p.folder).name] for p in _with_needed(other)]
        if pack not in packs or other.authority:
            continue
        for rule in other.rules.values():
            if not names & rests_on(packs, rule):
                continue
            books: dict[tuple[tuple[str, int], ...], Rulebook] = {}
            for trial in trials(other, rule):
                key = tuple(trial.editions.items())
                if key not in books:
                    books[key] = alone(rule, packs, trial.editions)
                assert not faults(books[key], trial)


def try_layer(layer: Pack, first: tuple[str, ...]) -> None:
    """Runs the trials of a layer of local law, its rules' and its changes', those of the named ones first."""
    assert layer.authority is not None
    bases = [_named(where.name) for where in changed_by(Path(layer.folder))]
    around = [pack for base in bases for pack in _with_needed(base)]
    todo = sorted(layer_trials(layer, bases), key=lambda trial: trial.rule not in first)
    laws: dict[str, list[Pack]] = {}
    books: dict[tuple[str, str], Rulebook] = {}
    for trial in todo:
        if trial.date not in laws:
            law = amend(bases, [layer], layer.authority.against, trial.date)
            laws[trial.date] = [*law, *(p for p in around if p.name not in {o.name for o in law})]
        key = (trial.rule, trial.date)
        if key not in books:
            own = next(pack for pack in laws[trial.date] if trial.rule in pack.rules)
            packs = [own, *(pack for pack in laws[trial.date] if pack is not own)]
            books[key] = alone(own.rules[trial.rule], packs, layer.authority.against)
        assert not faults(books[key], trial)


def noticed(change: Change) -> str:
    """Which tests notice a change, or ""."""
    try:
        new = changed(change)
    except AmpciteError:
        return "loading"
    for name, ask in asked(new):
        try:
            ask()
        except Exception:  # whatever a test raises, it has noticed
            return name
    return noticed(attrs.evolve(change, new=change.others[0], others=change.others[1:])) if change.others else ""


def _work(batch: list[Change]) -> tuple[str, list[tuple[Change, str]]]:
    """Whether the tests fail without any change to a part, and what notices each change to it."""
    untouched = attrs.evolve(batch[0], new=batch[0].old, others=())
    blamed = noticed(untouched)
    if not blamed:
        new = changed(untouched)
        for name in new.names if new.kind == "rule" and not new.pack.authority else ():
            folder = batch[0].file.parent.name
            for trial in known_trials(folder, name):
                if faults(usual(folder, name, tuple(trial.editions.items())), trial):
                    blamed = "examples"
    return (blamed and f"{batch[0].file.relative_to(ROOT)}:{batch[0].line}: {blamed}"), [(c, noticed(c)) for c in batch]


def main() -> int:
    """Runs the changes asked for and reports the score."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--sample", type=int, default=0)
    parser.add_argument("--least", type=float, default=100, help="the share in percent that must be noticed")
    parser.add_argument("--list", action="store_true")
    parser.add_argument("files", nargs="*", help="pack files, as rulepacks/roof/pathways.toml; all where none is named")
    asked_for = parser.parse_args()
    named = {(ROOT / name).resolve() for name in asked_for.files}
    todo = [change for change in changes() if not named or change.file in named]
    if asked_for.sample:
        todo.sort(key=lambda c: hashlib.sha256(f"{c.file.name} {c.start} {c.old}".encode()).hexdigest())
        todo = sorted(todo[: asked_for.sample], key=lambda c: (c.file, c.start))
    if asked_for.list:
        print("\n".join(map(str, todo)))
        return 0
    batches = [list(some) for _, some in groupby(todo, key=lambda c: (c.file, c.part))]
    missed, failing, done, shown = [], [], 0, 0
    fork = multiprocessing.get_context("fork" if sys.platform == "linux" else None)
    with concurrent.futures.ProcessPoolExecutor(os.cpu_count() or 1, fork) as pool:
        for blamed, results in pool.map(_work, batches, chunksize=4):
            failing += [blamed] if blamed else []
            done += len(results)
            for change in (change for change, test in results if not test):
                missed.append(change)
                print(f"unnoticed: {change}", flush=True)
            if done - shown >= 200 or done == len(todo):
                shown = done
                print(f"{done} of {len(todo)} changes, {len(missed)} unnoticed", flush=True)
    share = 100 * (1 - len(missed) / len(todo))
    print(f"score: {len(todo) - len(missed)} of {len(todo)} changes noticed, {share:.1f} %")
    for blamed in failing:
        print(f"the tests fail without any change ({blamed}); mend them first")
    return 2 if failing else 1 if share < asked_for.least else 0


if __name__ == "__main__":
    sys.exit(main())
