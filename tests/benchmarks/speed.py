"""Speed, as ratios measured in one run on a machine that is otherwise quiet. No test asserts a time.

    python tests/benchmarks/speed.py [--quick]

The unit of a house is ``json.loads`` of its bytes; that of a process is ``python -c pass``, both in processor time. The
aims stand beside the ratios. The general-purpose engines come from the registry: they get the formulas of the rules,
prepared beforehand, and the values of every name, quantities included, and give verdicts without words.
"""

from __future__ import annotations

import argparse
import copy
import json
import os
import resource
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import celpy
import simpleeval

import ampcite
from ampcite.base.resources import houses
from ampcite.engine.findings import FINDING_FIELDS
from ampcite.engine.plan import Bound
from ampcite.engine.state import EvaluationState
from ampcite.house.validate import is_valid
from ampcite.language import functions
from ampcite.language.logic import ABSENT, Barred, Unknown
from ampcite.language.tree import Arith, Call, Choose, Compare, Const, Logic, Lookup, Name, Node

CEL_FAMILIES = ("string voltage", "current and overcurrent", "conductor ampacity")
"""What cel-python is tried on: it takes minutes to prepare all formulas."""


def seconds(work: Callable[[], Any], repeat: int = 1) -> float:
    """Processor time of one call."""
    start = time.process_time()
    for _ in range(repeat):
        work()
    return (time.process_time() - start) / repeat


def least(work: Callable[[], Any], rounds: int, repeat: int = 1) -> float:
    return min(seconds(work, repeat) for _ in range(rounds))


def paired(a: Callable[[], Any], b: Callable[[], Any], rounds: int, repeat: int = 3) -> float:
    """The ratio of a to b, measured in turn so that both meet the same machine."""
    times = [(seconds(a, repeat), seconds(b, repeat)) for _ in range(rounds)]
    return min(x for x, _ in times) / min(y for _, y in times)


def fresh(make: Callable[[], Any], work: Callable[[Any], Any], unit: Callable[[], Any], rounds: int) -> float:
    """What it takes to work on something just made, over a unit: words that were read once would be kept."""
    times = []
    for _ in range(rounds):
        made = make()
        times.append((seconds(lambda made=made: work(made)), seconds(unit, 3)))
    return min(x for x, _ in times) / min(y for _, y in times)


def say(what: str, ratio: float, aim: str) -> None:
    print(f"{what:<84} {ratio:8.2f}   aim {aim}", flush=True)


# --- houses ------------------------------------------------------------------------------------------------------


def leaves(value: Any, steps: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """The places of all plain values."""
    items = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, below in items:
        if isinstance(below, dict | list):
            yield from leaves(below, (*steps, key))
        else:
            yield (*steps, key)


def without_some(document: dict[str, Any], share: int) -> dict[str, Any]:
    """The house with one in so many of its facts left out, but for names."""
    out = copy.deepcopy(document)
    for steps in list(leaves(document))[::share]:
        here = out
        for step in steps[:-1]:
            here = here[step]
        if isinstance(here, dict) and steps[-1] != "id":
            shorter = copy.deepcopy(out)
            there = shorter
            for step in steps[:-1]:
                there = there[step]
            del there[steps[-1]]
            if readable(shorter):
                out = shorter
    return out


def readable(document: dict[str, Any]) -> bool:
    try:
        ampcite.read(document)
    except ampcite.InputError:
        return False
    return True


def with_one_changed(document: dict[str, Any], count: int) -> list[ampcite.Description]:
    """The house with one number changed, for so many numbers."""
    numbers = [s for s in leaves(document) if s[0] not in ("codes", "equipment")]
    out: list[ampcite.Description] = []
    for steps in numbers[:: max(1, len(numbers) // (4 * count))]:
        changed = copy.deepcopy(document)
        here = changed
        for step in steps[:-1]:
            here = here[step]
        if type(here[steps[-1]]) in (int, float):
            here[steps[-1]] *= 2
            if readable(changed):
                out.append(ampcite.read(changed))
    return out[:count]


def floors(name: str, book: ampcite.Rulebook, description: ampcite.Description, document: Any,
           unit: Callable[[], Any], rounds: int) -> None:  # fmt: skip
    """What Python itself takes for the least that each step has to do, in the same unit."""
    report = ampcite.check(book, description)
    said = [getattr(f, key) for f in report.findings for key in FINDING_FIELDS]
    asked = len(report.findings) + len(report.not_applicable)

    def ask(_: Any) -> None:
        return None

    def once_again() -> list[Any]:
        return [getattr(f, key) for f in report.findings for key in FINDING_FIELDS]

    say(f"{name}: the schema gate of the read alone (jsonschema-rs)", paired(lambda: is_valid(document), unit, rounds),
        "(shown)")  # fmt: skip
    say(f"{name}: {asked} calls of a function that does nothing, one a rule and part",
        paired(lambda: [ask(i) for i in range(asked)], unit, rounds), "(shown)")  # fmt: skip
    say(f"{name}: the {len(said)} values of findings read again, no word made", paired(once_again, unit, rounds),
        "(shown)")  # fmt: skip


def of_houses(rounds: int) -> None:
    for path in houses():
        data = path.read_bytes()
        document = json.loads(data)
        description = ampcite.read(data)
        book = ampcite.load(description.editions)

        def unit(data: bytes = data) -> Any:
            return json.loads(data)

        def check(book: Any = book, description: Any = description) -> Any:
            report = ampcite.check(book, description)
            return report, report.verdict, report.counts

        def whole(book: Any = book, data: bytes = data) -> str:
            return ampcite.to_json(ampcite.check(book, ampcite.read(data)))

        def worded(report: ampcite.Report) -> list[Any]:
            return [getattr(f, name) for f in report.findings for name in FINDING_FIELDS]

        def fresh_report(book: Any = book, description: Any = description) -> ampcite.Report:
            return ampcite.check(book, description)

        name = path.stem
        say(f"{name}: read", paired(lambda d=data: ampcite.read(d), unit, rounds), "at most 3")
        say(f"{name}: verdicts of all packs", paired(check, unit, rounds), "at most 5")
        floors(name, book, description, document, unit, rounds)
        say(f"{name}: compact JSON", fresh(fresh_report, ampcite.to_json, unit, rounds), "at most 2")
        say(f"{name}: everything worded", fresh(fresh_report, worded, unit, rounds), "at most 14")
        say(f"{name}: bytes in to compact JSON out", paired(whole, unit, rounds), "at most 10")
        for share in (50, 12):
            poor = ampcite.read(without_some(document, share))
            incomplete = paired(lambda b=book, p=poor: ampcite.check(b, p).verdict, check, rounds)
            say(f"{name}: with one fact in {share} left out, over the whole house", incomplete, "at most 1.3")
        earlier = ampcite.check(book, description)
        again = [paired(lambda b=book, n=n, e=earlier: ampcite.check(b, n, since=e).verdict,
                        lambda b=book, n=n: ampcite.check(b, n).verdict, rounds) for n in with_one_changed(document, 8)]
        say(f"{name}: one fact changed, over a whole check, median", statistics.median(again), "at most 0.25")
        families = sorted({head.family for head in book.bound.heads})
        alone = sum(least(lambda b=book, d=description, f=f: ampcite.check(b, d, rules=[f]).verdict, rounds)
                    for f in families) / least(check, rounds)
        say(f"{name}: {len(families)} families one by one, over all at once", alone, "(shown)")


# --- engines from the registry -----------------------------------------------------------------------------------


def plain_functions(bound: Bound) -> dict[str, Callable[..., Any]]:
    """The functions and tables of the formulas, as plain Python."""
    return {
        "min": min, "max": max, "abs": abs, "sum": sum, "count": len, "largest": max, "least": min,
        "whole": functions.whole, "alike": functions.all_equal, "bears": functions.contains_phrases,
        "day": functions.day, "has": lambda v, w: w in v,
        "how_many": lambda v, w: list(v).count(w), "any_is": any,
        "all_are": lambda v, *w: all(i == w[0] if w else i for i in v),
        "at_largest": lambda v, t: functions.text_at(v, t, True), "percent": lambda v: v,
        "at_least": lambda v, t: functions.text_at(v, t, False),
        "absent": lambda v: v is ABSENT or v is None or (isinstance(v, tuple) and ABSENT in v),
        **{name: bound.tables[name].compiled_lookup() for name in bound.tables},
    }  # fmt: skip


SYNTAX = {"python": (" and ", " or ", "(not {})", "({1} if {0} else {2})", "True", "False"),
          "cel": (" && ", " || ", "(!{})", "({0} ? {1} : {2})", "true", "false")}  # fmt: skip


def written(node: Node, bound: Bound, syntax: str) -> str:
    """A formula as an engine reads it."""
    all_of, one_of, denied, choice, yes, no = SYNTAX[syntax]

    def down(part: Node, factor: float = 1.0) -> str:
        text = written(part, bound, syntax)
        return text if factor == 1.0 else f"({text} * {factor!r})"

    match node:
        case Const(value=bool() as value):
            return yes if value else no
        case Const(value=value):
            return repr(value)
        case Name(name=name):
            return repr(bound.constants[name].value) if name in bound.constants else name
        case Arith(op=op, left=left, right=right, factor=k):
            return f"({down(left)} {op} {down(right, k) if op in '+-' else f'{down(right)} * {k!r}'})"
        case Compare(op=op, left=left, right=right, factor=k):
            return f"({down(left)} {op} {down(right, k)})"
        case Logic(op="not", parts=(part,)):
            return denied.format(down(part))
        case Logic(op=op, parts=parts):
            return f"({(all_of if op == 'and' else one_of).join(map(down, parts))})"
        case Choose(condition=condition, yes=first, no=second, factor=k):
            return choice.format(down(condition), down(first), down(second, k))
        case Call(name=name, args=args, factors=ks) | Lookup(table=name, args=args, factors=ks):
            return f"{name}({', '.join(down(a, k) for a, k in zip(args, ks, strict=True))})"


Prepared = list[tuple[Any, list[tuple[str, Any]], list[Any], dict[str, Any]]]


def prepared(book: ampcite.Rulebook, description: ampcite.Description, chosen: list[int], syntax: str,
             compiled: Callable[[str], Any], convert: Callable[[Any], Any]) -> Prepared:  # fmt: skip
    """For every rule and part: its formulas, prepared, and what its names stand for."""
    bound, out = book.bound, []
    state = EvaluationState(book.machine, description)
    for number in chosen:
        rule = bound.rules[number]
        holds = [rule.holds] if rule.holds is not None else [one.holds for one in rule.alternatives]
        applies = compiled(written(rule.applies, bound, syntax)) if rule.applies is not None else None
        lets = [(name, compiled(written(node, bound, syntax))) for name, node in rule.let]
        statements = [compiled(written(node, bound, syntax)) for node in holds]
        for part in description.parts[rule.kind] or ():
            values = {name: state.follow(path, part)[0] for name, path in rule.inputs.items()}
            known = {n: convert(v) for n, v in values.items() if not isinstance(v, Unknown | Barred)}
            out.append((applies, lets, statements, known))
    return out


def verdicts(todo: Prepared, evaluate: Callable[[Any, dict[str, Any]], Any]) -> int:
    """All formulas by an engine, as far as each rule has to be asked; gives how many were evaluated."""
    done = 0
    for applies, lets, statements, known in todo:
        names = dict(known)
        try:
            done += 1
            if applies is not None and not evaluate(applies, names):
                continue
            for name, formula in lets:
                names[name] = evaluate(formula, names)
                done += 1
            for formula in statements:
                done += 1
                if evaluate(formula, names):
                    break
        except (TypeError, KeyError, ValueError, simpleeval.InvalidExpression, celpy.CELEvalError):
            continue
    return done


def of_engines(rounds: int) -> None:
    description = ampcite.read(houses()[0].read_bytes())
    book = ampcite.load(description.editions)
    tool = simpleeval.EvalWithCompoundTypes(functions=plain_functions(book.bound))

    def simple(parsed: tuple[str, Any], names: dict[str, Any]) -> Any:
        tool.names = names
        return tool.eval(parsed[0], previously_parsed=parsed[1])

    every = list(range(len(book.bound.heads)))
    todo = prepared(book, description, every, "python", lambda text: (text, tool.parse(text)), lambda value: value)
    ratio = paired(lambda: verdicts(todo, simple), lambda: ampcite.check(book, description).verdict, rounds, 1)
    say(f"simpleeval, {verdicts(todo, simple)} formulas parsed before, over our verdicts", ratio, "at least 4")
    types = celpy.celtypes

    def convert(value: Any) -> Any:
        if isinstance(value, bool):
            return types.BoolType(value)
        if isinstance(value, int | float):
            return types.DoubleType(value)
        if isinstance(value, str):
            return types.StringType(value)
        return types.ListType([convert(v) for v in value]) if isinstance(value, list | tuple) else None

    environment = celpy.Environment()
    known = {name: lambda *args, run=run: convert(run(*args)) for name, run in plain_functions(book.bound).items()}
    some = [i for i in every if book.bound.heads[i].family in CEL_FAMILIES]
    todo = prepared(book, description, some, "cel",
                    lambda text: environment.program(environment.compile(text), functions=known), convert)  # fmt: skip
    ratio = paired(lambda: verdicts(todo, lambda program, names: program.evaluate(names)),
                   lambda: ampcite.check(book, description, rules=CEL_FAMILIES).verdict, 3, 1)  # fmt: skip
    say(f"cel-python, formulas of {len(CEL_FAMILIES)} families compiled before, over our verdicts", ratio, "at least 4")


# --- many of everything, and processes ---------------------------------------------------------------------------


def of_many(count: int, rounds: int) -> None:
    document = json.loads(houses()[0].read_bytes())
    labels = document["labels"]
    model = next(label for label in (labels if isinstance(labels, list) else labels["all"]))
    document["labels"] = []
    book = ampcite.load(ampcite.read(document).editions, ["labels"])

    def with_labels(number: int) -> ampcite.Description:
        return ampcite.read({**document, "labels": [{**model, "id": f"L-{i}"} for i in range(number)]})

    few, many = with_labels(count // 10), with_labels(count)
    one = least(lambda: ampcite.check(book, many).verdict, rounds) / count
    other = least(lambda: ampcite.check(book, few).verdict, rounds) / (count // 10)
    say(f"cost of one of {count} labels over one of {count // 10}", one / other, "at most 1.5 (linear)")


def spent(words: list[str], rounds: int) -> float:
    """The least processor time of a fresh process."""
    times = []
    for _ in range(rounds):
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run(words, check=True, stdout=subprocess.DEVNULL)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        times.append(after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime)
    return min(times)


MEMORY = """
import resource, subprocess, sys
subprocess.run(sys.argv[1:], check=True, stdout=subprocess.DEVNULL)
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss // 1024)
"""


def of_processes(rounds: int) -> None:
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    command = [str(Path(sys.executable).parent / "ampcite"), "check", str(houses()[0])]
    nothing = spent([sys.executable, "-c", "pass"], 2 * rounds)
    with tempfile.TemporaryDirectory(dir=Path.home()) as folder:
        os.environ["AMPCITE_CACHE"] = folder
        subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
        say("a warm `ampcite check`, over `python -c pass`", spent(command, rounds) / nothing, "at most 15")
    os.environ["AMPCITE_CACHE"] = ""
    first = spent(command, max(2, rounds // 3)) / nothing
    say("the first use of all packs, over `python -c pass`", first, "at most 70")
    told = subprocess.run([sys.executable, "-c", MEMORY, *command], capture_output=True, text=True, check=True).stdout
    say("the most memory of a first use, in MB", float(told), "at most 100")


def main() -> None:
    """Measures and prints every ratio."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--quick", action="store_true", help="fewer rounds")
    rounds = 5 if parser.parse_args().quick else 15
    of_houses(rounds)
    of_engines(rounds)
    of_many(2000, rounds)
    of_processes(rounds)


if __name__ == "__main__":
    main()
