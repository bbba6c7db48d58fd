"""Speed, as ratios measured in one run on a machine that is otherwise quiet. No test asserts a time.

    python tests/benchmarks/speed.py [--quick]

The aims stand beside each ratio. The yardstick is ``yardstick.py``: the same rules written by hand as plain Python
functions over a parsed dict, every finding with its words and worked lines, held to the same answers by
``test_yardstick.py``. The general-purpose expression engines are from the registry; they get the formulas of the
rules and the values of their names, and render no words, while our own time is that of the whole check.
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

import celpy
import simpleeval

import ampcite
from ampcite.base.resources import houses
from ampcite.engine import evaluate as interpret
from ampcite.engine import explain as careful
from ampcite.engine.plan import BoundRule
from ampcite.house.parts import Description
from ampcite.language.formula import Arith, Call, Choose, Compare, Const, Logic, Lookup, Name, Node
from ampcite.language.logic import ABSENT, Unknown
from shared import plain

sys.path.insert(0, str(Path(__file__).parent))
import yardstick
from core import core_packs, core_rulebook, many_rules

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


# --- engines from the registry ----------------------------------------------------------------------------------


def plain_functions(rulebook: ampcite.Rulebook) -> dict[str, Callable[..., Any]]:
    """The functions and tables of the formulas, as plain Python."""
    return {
        "min": min, "max": max, "abs": abs, "sum": sum, "count": len, "largest": max, "least": min,
        "whole": interpret.whole, "alike": interpret.alike, "bears": interpret.bears, "day": interpret.day,
        "has": lambda v, w: w in v,
        "how_many": lambda v, w: list(v).count(w), "any_is": any,
        "all_are": lambda v, *w: all(i == w[0] if w else i for i in v),
        "at_largest": lambda v, t: interpret.at(v, t, True), "percent": lambda v: v * 100,
        "at_least": lambda v, t: interpret.at(v, t, False),
        "absent": lambda v: v is ABSENT or v is None or (isinstance(v, tuple) and ABSENT in v),
        **{name: table.compiled_lookup() for name, table in rulebook.bound.tables.items()},
    }  # fmt: skip


def jobs(rulebook: ampcite.Rulebook, description: Description) -> list[tuple[BoundRule, dict[str, Any]]]:
    """Every rule with every part it is asked of, and what its names stand for there."""
    bound, world = rulebook.bound, interpret.begin(rulebook.bound, description)
    for derived in bound.derived:
        for part in description.parts[derived.kind] or ():
            careful.derive(world, bound, derived, part)
    out = []
    for rule in bound.rules:
        for part in description.parts[rule.kind] or ():
            env, _ = careful._env(world, bound, rule.inputs, part)
            known = {name: value for name, value in env.values.items() if not isinstance(value, Unknown)}
            out.append((rule, known))
    return out


def with_engine(todo: list[tuple[BoundRule, dict[str, Any]]], evaluate: Callable[[Any, dict[str, Any]], Any],
                formulas: dict[str, tuple[Any, list[tuple[str, Any]], list[Any]]],
                convert: Callable[[Any], Any]) -> Callable[[], int]:  # fmt: skip
    """All formulas of all rules for every part by an engine; the function gives how many it evaluated."""
    prepared = [(rule, {n: convert(v) for n, v in known.items()}) for rule, known in todo]

    def run() -> int:
        done = 0
        for rule, known in prepared:
            applies, lets, holds = formulas[rule.id]
            names = dict(known)
            try:
                done += 1
                if applies is not None and not evaluate(applies, names):
                    continue
                for name, formula in lets:
                    names[name] = evaluate(formula, names)
                    done += 1
                for formula in holds:
                    done += 1
                    if evaluate(formula, names):
                        break
            except (TypeError, KeyError, simpleeval.NameNotDefined, celpy.CELEvalError):
                continue
        return done

    return run


def texts() -> dict[str, tuple[str | None, list[tuple[str, str]], list[str]]]:
    """The formulas of every rule as the packs write them."""
    out = {}
    for pack in core_packs():
        for rule in pack.rules.values():
            ways = [w.holds for w in rule.ways if (w.begins or 0) <= EDITION < (w.withdrawn or 9999)]
            out[rule.id] = (rule.applies or None, list(rule.let.items()), [rule.holds] if rule.holds else ways)
    return out


def simple(rulebook: ampcite.Rulebook, todo: list[tuple[BoundRule, dict[str, Any]]], parsed: bool) -> Callable[[], int]:
    """simpleeval, with formulas parsed beforehand or, as it is mostly used, each time."""
    tool = simpleeval.EvalWithCompoundTypes(functions=plain_functions(rulebook))
    trees = {t: tool.parse(t) for a, ls, hs in texts().values() for t in [a, *(x for _, x in ls), *hs] if t}

    def evaluate(formula: str, names: dict[str, Any]) -> Any:
        tool.names = names
        return tool.eval(formula, previously_parsed=trees[formula]) if parsed else tool.eval(formula)

    return with_engine(todo, evaluate, texts(), lambda value: value)


def cel(rulebook: ampcite.Rulebook, todo: list[tuple[BoundRule, dict[str, Any]]]) -> Callable[[], int]:
    """cel-python, an implementation of the open Common Expression Language; formulas compiled beforehand."""
    types = celpy.celtypes

    def convert(value: Any) -> Any:
        if isinstance(value, bool):
            return types.BoolType(value)
        if isinstance(value, int | float):
            return types.DoubleType(value)
        if isinstance(value, str):
            return types.StringType(value)
        return types.ListType([convert(v) for v in value]) if isinstance(value, list | tuple) else None

    def wrapped(function: Callable[..., Any]) -> Callable[..., Any]:
        return lambda *args: convert(function(*args))

    known = {name: wrapped(function) for name, function in plain_functions(rulebook).items()}
    environment = celpy.Environment()

    def compiled(node: Node | None) -> Any:
        if node is None:
            return None
        return environment.program(environment.compile(cel_text(node, rulebook)), functions=known)

    formulas = {
        rule.id: (compiled(rule.applies), [(n, compiled(x)) for n, x in rule.let],
                  [compiled(h) for h in ([rule.holds] if rule.holds is not None else [w.holds for w in rule.ways])])
        for rule in rulebook.bound.rules
    }  # fmt: skip
    return with_engine(todo, lambda program, names: program.evaluate(names), formulas, convert)


def cel_text(node: Node, rulebook: ampcite.Rulebook) -> str:
    """A formula in the words of the Common Expression Language."""

    def down(part: Node, k: float = 1.0) -> str:
        return cel_text(part, rulebook) if k == 1.0 else f"({cel_text(part, rulebook)} * {k!r})"

    match node:
        case Const(value=bool() as value):
            return "true" if value else "false"
        case Const(value=value):
            return repr(value)
        case Name(name=name):
            constant = rulebook.bound.constants.get(name)
            return repr(constant.value) if constant else name
        case Arith(op=op, left=left, right=right, k=k):
            return f"({down(left)} {op} {down(right, k) if op in '+-' else f'{down(right)} * {k!r}'})"
        case Compare(op=op, left=left, right=right, k=k):
            return f"({down(left)} {op} {down(right, k)})"
        case Logic(op="not", parts=(part,)):
            return f"(!{down(part)})"
        case Logic(op=op, parts=parts):
            return "(" + (" && " if op == "and" else " || ").join(map(down, parts)) + ")"
        case Choose(condition=condition, yes=yes, no=no, k=k):
            return f"({down(condition)} ? {down(yes)} : {down(no, k)})"
        case Call(name=name, args=args, ks=ks) | Lookup(table=name, args=args, ks=ks):
            return f"{name}({', '.join(down(a, k) for a, k in zip(args, ks, strict=True))})"


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
    rulebook = core_rulebook(EDITION)
    text = houses()[0].read_bytes()
    document = json.loads(text)
    description = ampcite.read(text)

    def ours() -> Any:
        return ampcite.check(rulebook, description)

    for path in houses():
        one, by_hand = ampcite.read(path), yardstick.House(plain(json.loads(path.read_bytes())))
        ratio = paired(lambda d=one: ampcite.check(rulebook, d), lambda h=by_hand: yardstick.judge(h), rounds, repeat)
        say(f"rules of {path.stem}, all words, over hand-written", ratio, "at most 1.5")
    ratio = paired(lambda: ampcite.check(rulebook, ampcite.read(text)),
                   lambda: yardstick.check(plain(json.loads(text))), rounds, repeat)  # fmt: skip
    say("bytes to report, schema included, over json.loads and hand-written", ratio, "(shown)")
    todo = jobs(rulebook, description)
    for name, run in (
        ("cel-python, compiled before", cel(rulebook, todo)),
        ("simpleeval, parsed each time", simple(rulebook, todo, parsed=False)),
        ("simpleeval, parsed before", simple(rulebook, todo, parsed=True)),
    ):
        aim = "at least 10" if name.startswith("cel") else "(shown)"
        say(f"{name}, {run()} rule formulas without words, over our whole check", paired(run, ours, rounds, 1), aim)
    everything = ampcite.load(description.editions)
    ratio = paired(lambda: ampcite.read(text), lambda: ampcite.check(everything, description), rounds, repeat)
    say("parsing and validation over the rules, many documents in one process", ratio, "below 1")
    for kind in ("strings", "circuits"):
        small, large = (ampcite.read(many(document, kind, n)) for n in (top // 10, top))
        a = best(lambda d=large: ampcite.check(rulebook, d), 3, 1) / top
        b = best(lambda d=small: ampcite.check(rulebook, d), 3, 3) / (top // 10)
        say(f"cost of one of {top} {kind} over one of {top // 10}", a / b, "at most 1.5 (linear)")
    some = len(rulebook.bound.rules)
    large_book, small_book = many_rules(10 * some, EDITION), many_rules(some, EDITION)
    a = best(lambda: ampcite.check(large_book, description), 3, 1) / (10 * some)
    b = best(lambda: ampcite.check(small_book, description), 3, 3) / some
    say(f"cost of one of {10 * some} rules over one of {some}", a / b, "at most 1.25 (linear)")
    with tempfile.TemporaryDirectory() as folder:
        os.environ["AMPCITE_CACHE"] = folder
        command = [str(Path(sys.executable).parent / "ampcite"), "check", str(houses()[0])]
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        ratio = cold(command, rounds) / cold([sys.executable, "-c", "import pint, jsonschema"], rounds)
    say("a check from a cold start over importing pint and jsonschema", ratio, "at most 1")


if __name__ == "__main__":
    main()
