"""Speed, as ratios measured in one run on a machine that is otherwise quiet. No test asserts a time.

    python tests/benchmarks/speed.py [--quick]

The aims stand beside each ratio. The yardstick is ``yardstick.py``: the same rules written by hand as plain Python
functions over a parsed dict, every finding with its words and worked lines, held to the same answers by
``test_yardstick.py``. The general-purpose expression engine is simpleeval from the registry, given the same formulas,
parsed beforehand, and the values of their names; it renders no words.
"""

from __future__ import annotations

import argparse
import copy
import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import attrs
import simpleeval

import ampcite
from ampcite import careful, interpret
from ampcite.bind import bind
from ampcite.description import Description
from ampcite.pack import load_pack
from ampcite.paths import houses
from ampcite.plugins import pack_folders
from ampcite.verdict import ABSENT

sys.path.insert(0, str(Path(__file__).parent))
import yardstick

EDITION = 2020


def best(work: Callable[[], Any], rounds: int, repeat: int) -> float:
    """The least time of one call over several rounds."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        for _ in range(repeat):
            work()
        times.append((time.perf_counter() - start) / repeat)
    return min(times)


def paired(a: Callable[[], Any], b: Callable[[], Any], rounds: int, repeat: int) -> float:
    """The median ratio of a to b, measured in turn so that both meet the same machine."""
    return statistics.median(best(a, 1, repeat) / best(b, 1, repeat) for _ in range(rounds))


def say(what: str, ratio: float, aim: str) -> None:
    print(f"{what:<78} {ratio:8.3f}   aim {aim}")


# --- the engine from the registry ------------------------------------------------------------------------------


def engine(rulebook: ampcite.Rulebook, description: Description) -> Callable[[], int]:
    """All formulas of all rules, for every part, by simpleeval; gives how many it evaluated."""
    texts = formulas()
    bound = rulebook.bound
    places = description.size + 2
    world = interpret.World(description, {d.name: [None] * places for d in bound.derived}, {},
                            {d.name: [()] * places for d in bound.derived})  # fmt: skip
    for derived in bound.derived:
        for part in description.parts[derived.kind] or ():
            careful.derive(world, bound, derived, part)
    functions = {
        "min": min, "max": max, "abs": abs, "sum": sum, "count": len, "largest": max, "least": min,
        "whole": interpret.whole, "alike": interpret.alike, "has": lambda v, w: w in v,
        "how_many": lambda v, w: list(v).count(w), "all_are": lambda v, *w: all(i == w[0] if w else i for i in v),
        "any_is": any, "at_largest": lambda v, t: interpret.at(v, t, True), "percent": lambda v: v * 100,
        "at_least": lambda v, t: interpret.at(v, t, False),
        "absent": lambda v: v is ABSENT or (isinstance(v, tuple) and ABSENT in v), **bound.tables,
    }  # fmt: skip
    jobs = []
    for rule in bound.rules:
        applies, lets, holds = texts[rule.id]
        for part in description.parts[rule.kind] or ():
            env, _ = careful._env(world, bound, rule.inputs, part)
            known = {name: value for name, value in env.values.items() if not isinstance(value, interpret.Unknown)}
            jobs.append((known, applies, lets, holds))
    tool = simpleeval.SimpleEval(functions=functions)
    parsed = {t: tool.parse(t) for a, ls, hs in texts.values() for t in [a, *ls.values(), *hs] if t}

    def run() -> int:
        done = 0
        for known, applies, lets, holds in jobs:
            names = dict(known)
            tool.names = names
            try:
                if applies:
                    done += 1
                    if not tool.eval(applies, previously_parsed=parsed[applies]):
                        continue
                for name, text in lets.items():
                    names[name] = tool.eval(text, previously_parsed=parsed[text])
                    done += 1
                for text in holds:
                    done += 1
                    if tool.eval(text, previously_parsed=parsed[text]):
                        break
            except (TypeError, simpleeval.NameNotDefined):
                continue
        return done

    return run


def formulas() -> dict[str, tuple[str, dict[str, str], list[str]]]:
    out = {}
    for folder in pack_folders().values():
        for rule in load_pack(folder).rules.values():
            ways = [w.holds for w in rule.ways if (w.begins or 0) <= EDITION < (w.withdrawn or 9999)]
            out[rule.id] = (rule.applies, dict(rule.let), [rule.holds] if rule.holds else ways)
    return out


# --- many of everything ------------------------------------------------------------------------------------------


def many(document: dict[str, Any], kind: str, count: int) -> dict[str, Any]:
    """The house with so many strings or circuits, copies of its own."""
    out = copy.deepcopy(document)
    out["readings"].pop("strings", None)
    model = out[kind]
    out[kind] = [{**copy.deepcopy(model[i % len(model)]), "id": f"{kind}-{i}"} for i in range(count)]
    text = json.dumps(out)
    for i, part in enumerate(model):
        text = text.replace(f'["{part["id"]}"]', f'["{kind}-{i}"]').replace(f': "{part["id"]}"', f': "{kind}-{i}"')
    value: dict[str, Any] = json.loads(text)
    return value


def many_rules(count: int) -> ampcite.Rulebook:
    """A rulebook with so many rules: those of the packs, over and over."""
    from ampcite.emit import emit
    from ampcite.rulebook import functions

    packs = [load_pack(folder) for folder in pack_folders().values()]
    pool = [(pack, rule) for pack in packs for rule in pack.rules.values() if rule.in_force(EDITION)]
    chosen: dict[str, dict[str, Any]] = {pack.name: {} for pack in packs}
    for i in range(count):
        pack, rule = pool[i % len(pool)]
        name = f"{rule.id}-{i}"
        chosen[pack.name][name] = attrs.evolve(rule, id=name)
    bound = bind([attrs.evolve(pack, rules=chosen[pack.name]) for pack in packs], EDITION)
    return ampcite.Rulebook(EDITION, (), bound, *functions(bound, compile(emit(bound), "<many>", "exec")))


def cold(words: list[str], rounds: int) -> float:
    """The least time of a fresh process."""
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        subprocess.run(words, check=True, stdout=subprocess.DEVNULL)
        times.append(time.perf_counter() - start)
    return min(times)


def main() -> None:
    """Measures and prints every ratio."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="fewer rounds, smaller sizes")
    quick = parser.parse_args().quick
    rounds, repeat, top = (5, 20, 300) if quick else (15, 60, 1000)
    rulebook = ampcite.load(EDITION)
    text = houses()[0].read_bytes()
    document = json.loads(text)
    description = ampcite.read(text)

    def ours() -> Any:
        return ampcite.check(rulebook, description)

    for path in houses():
        one, parsed = ampcite.read(path), json.loads(path.read_bytes())
        ratio = paired(lambda d=one: ampcite.check(rulebook, d), lambda p=parsed: yardstick.check(p), rounds, repeat)
        say(f"check of {path.stem}, all words, over hand-written", ratio, "at most 1.5")
    ratio = paired(lambda: ampcite.check(rulebook, ampcite.read(text)),
                   lambda: yardstick.check(json.loads(text)), rounds, repeat)  # fmt: skip
    say("bytes to report, schema included, over json.loads and hand-written", ratio, "(shown)")
    run = engine(rulebook, description)
    say(f"simpleeval, {run()} formulas without words, over our whole check", paired(run, ours, rounds, 3), "at least 10")
    ratio = paired(lambda: ampcite.read(text), ours, rounds, repeat)
    say("parsing and validation over the rules, many documents in one process", ratio, "below 1")
    for kind in ("strings", "circuits"):
        small, large = (ampcite.read(many(document, kind, n)) for n in (top // 10, top))
        a = best(lambda d=large: ampcite.check(rulebook, d), 3, 1) / top
        b = best(lambda d=small: ampcite.check(rulebook, d), 3, 3) / (top // 10)
        say(f"cost of one of {top} {kind} over one of {top // 10}", a / b, "at most 1.5 (linear)")
    large_book, small_book = many_rules(top), many_rules(top // 10)
    a = best(lambda: ampcite.check(large_book, description), 3, 1) / top
    b = best(lambda: ampcite.check(small_book, description), 3, 3) / (top // 10)
    say(f"cost of one of {top} rules over one of {top // 10}", a / b, "at most 1.25 (linear)")
    with tempfile.TemporaryDirectory() as folder:
        os.environ["AMPCITE_CACHE"] = folder
        command = [str(Path(sys.executable).parent / "ampcite"), "check", str(houses()[0])]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        ratio = cold(command, rounds) / cold([sys.executable, "-c", "import pint, jsonschema"], rounds)
    say("a check from a cold start over importing pint and jsonschema", ratio, "at most 1")


if __name__ == "__main__":
    main()
