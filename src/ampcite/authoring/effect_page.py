"""The effect of a change of law on a set of houses, on one page: as text, as a table, as a page for a council."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from html import escape
from pathlib import Path

from ampcite.authoring.effect import FAILING, KINDS, OTHER, RELIEVED, UNDECIDED, Effect, Shift
from ampcite.base.spreadsheet import as_csv

MOST_NAMED = 6
CAUTION = (
    "Counted over the houses described, and over what their descriptions say. It is no forecast for other houses, and "
    "no approval."
)
_HEAD = {FAILING: "newly failing", RELIEVED: "relieved", UNDECIDED: "newly undecided", OTHER: OTHER}


def _counted(number: int) -> str:
    return "1 house" if number == 1 else f"{number} houses"


def as_text(effects: Sequence[Effect], houses: int, aside: Sequence[str], title: str) -> str:
    """One page for reading: by clause, the counts of houses, and who they are where something breaks."""
    lines = [title, _summary(effects, houses), ""]
    for one in effects:
        counts = "; ".join(f"{_HEAD[kind]}: {one.count(kind)}" for kind in KINDS if one.count(kind))
        lines += [one.cause, f"  {counts}"]
        lines += [f"    {said}" for said in _named(one)]
    lines += [""] if effects else []
    lines += [f"Set aside: {said}" for said in aside]
    return "\n".join([*lines, CAUTION]) + "\n"


def as_table(effects: Sequence[Effect]) -> str:
    """A table, one row for each clause, house and rule, as CSV."""
    rows = [("clause", "effect", "house", "part", "rule", "before", "after", "why")]
    for one in effects:
        for kind in KINDS:
            for source, found in one.houses.get(kind, {}).items():
                rows += [(one.cause, _HEAD[kind], source, s.label, s.rule, s.before, s.after, "; ".join(s.why))
                         for s in found]  # fmt: skip
    return as_csv(rows, mark=False)


def as_html(effects: Sequence[Effect], houses: int, aside: Sequence[str], title: str) -> str:
    """A page for a council: by clause, how many houses, with what is theirs below each."""
    rows = []
    for one in effects:
        cells = "".join(f'<td class="n">{one.count(kind) or ""}</td>' for kind in KINDS)
        rows.append(f"<tr><th scope=row>{escape(one.cause)}</th>{cells}</tr>")
        items = "".join(f"<li>{escape(said)}</li>" for said in _named(one))
        if items:
            rows.append(f'<tr><td colspan="{len(KINDS) + 1}"><ul>{items}</ul></td></tr>')
    heads = "".join(f'<th scope=col class="n">{escape(_HEAD[kind])}</th>' for kind in KINDS)
    notes = "".join(f"<p>Set aside: {escape(said)}</p>" for said in aside)
    return _PAGE.format(title=escape(title), summary=escape(_summary(effects, houses)), heads=heads,
                        rows="\n".join(rows), notes=notes, caution=escape(CAUTION))  # fmt: skip


def _summary(effects: Sequence[Effect], houses: int) -> str:
    """How many houses change, each counted once, by the gravest that happens to it."""
    counted: set[str] = set()
    said = []
    for kind in KINDS:
        sources = {source for one in effects for source in one.houses.get(kind, {})} - counted
        counted |= sources
        said += [f"{len(sources)} {_HEAD[kind]}"] if sources else []
    untouched = houses - len(counted)
    if not said:
        return f"{_counted(houses)}. Nothing changes."
    return f"{_counted(houses)}: {', '.join(said)}{f', {untouched} not touched' if untouched else ''}."


def _named(one: Effect) -> list[str]:
    """Which houses fail or are relieved, and what those that are undecided do not state."""
    lines = []
    for kind in (FAILING, RELIEVED):
        found = list(one.houses.get(kind, {}).items())
        lines += [f"{_HEAD[kind]}: {Path(source).name}: {_parts(shifts)}" for source, shifts in found[:MOST_NAMED]]
        lines += [f"and {len(found) - MOST_NAMED} more"] if len(found) > MOST_NAMED else []
    lacking = Counter(word for shifts in one.houses.get(UNDECIDED, {}).values()
                      for word in {word for shift in shifts for word in shift.missing})  # fmt: skip
    lines += [f"not stated by {_counted(times)}: {word}" for word, times in lacking.most_common(MOST_NAMED)]
    return lines


def _parts(found: Sequence[Shift]) -> str:
    """What of a house it is about, and the figures."""
    return "; ".join(dict.fromkeys(f"{s.label} ({s.before} before, {s.after} now"
                                   + "".join(f"; {why}" for why in s.why[:1] if " before, " in why) + ")"
                                   for s in found))  # fmt: skip


_PAGE = """<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<title>{title}</title>
<style>
body {{ font: 16px/1.45 Georgia, serif; max-width: 60rem; margin: 2rem auto; padding: 0 1rem; color: #222; }}
table {{ border-collapse: collapse; width: 100%; }}
th, td {{ text-align: left; vertical-align: top; padding: .35rem .6rem; border-bottom: 1px solid #ccc; }}
thead th {{ border-bottom: 2px solid #222; vertical-align: bottom; }}
th[scope=row] {{ font-weight: normal; }}
.n {{ text-align: right; width: 5.5rem; }}
ul {{ margin: 0; padding-left: 1.2rem; color: #555; font-size: .9rem; }}
@media print {{ body {{ margin: 0; }} }}
</style>
</head>
<body>
<h1>{title}</h1>
<p>{summary}</p>
<table>
<thead><tr><th scope=col>clause</th>{heads}</tr></thead>
<tbody>
{rows}
</tbody>
</table>
{notes}
<p>{caution}</p>
</body>
</html>
"""
