"""The command line for those who write packs and keep local law: new, check, try, pages, carry, wrap; effect; lock."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, NoReturn

import click

from ampcite.command.output import write_into, write_new

if TYPE_CHECKING:
    from ampcite.engine.rulebook import Rulebook
    from ampcite.law.records import Pack

FAILS, UNUSABLE, NOTHING, UNDECIDED = 1, 2, 3, 4
CAUTION = (
    "A second pair of eyes, not an approval: the local authority and licensed practice decide. Direct current "
    "from an array can kill; work on it is for qualified persons with listed equipment."
)


def stop(said: object) -> NoReturn:
    """Ends the command with what can't be used."""
    click.echo(str(said), err=True)
    sys.exit(UNUSABLE)


def load_packs(names: Iterable[str]) -> list[Pack]:
    """The packs of these names, folders or zip files, and those they change; all installed ones where none is named."""
    from ampcite.base.errors import AmpciteError
    from ampcite.law.load import load_pack
    from ampcite.law.registry import chosen_folders, pack_folders

    chosen = list(names)
    try:
        found = chosen_folders(chosen) if chosen else list(pack_folders().values())
        return sorted(map(load_pack, found), key=lambda pack: (bool(pack.authority), pack.order, pack.name))
    except AmpciteError as fault:
        stop(fault)


def named(loaded: list[Pack]) -> Pack:
    """Of packs loaded by one name, the one that was named: a layer comes after the packs it changes."""
    return loaded[-1] if loaded[-1].authority else loaded[0]


@click.group()
def pack() -> None:
    """For those who write packs."""


@pack.command("new")
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--layer", "authority", metavar="NAME", help="A layer of local law, and the authority that speaks in it.")
@click.option("--level", type=click.Choice(["state", "county", "city", "utility"]), default="city", show_default=True,
              help="The place of that authority in the order of precedence.")  # fmt: skip
@click.option("--edition", type=int, default=2023, show_default=True, help="Edition of the electrical code.")
@click.option("--building-edition", "building", type=int, help="Edition of the residential and fire codes.")
def new(folder: Path, authority: str | None, level: str, edition: int, building: int | None) -> None:
    """Start a pack in a new folder, with examples that hold."""
    import re

    from ampcite.authoring import scaffold

    name = folder.name
    if not re.fullmatch(r"[a-z][a-z0-9]*(-[a-z0-9]+)*", name):
        stop(f'{name}: is no name for a pack; use small letters, digits and hyphens, such as "elm-county"')
    if folder.exists():
        stop(f"{folder}: is there already; name a new folder")
    editions = {"electrical": edition} | ({"building": building} if building else {})
    files = scaffold.layer(name, authority, level, editions) if authority else scaffold.rules(name, edition)
    write_new(folder, files)
    click.echo(f"{folder}: {', '.join(files)} written; next: ampcite pack check {folder}, ampcite pack try {folder}")


@pack.command("check")
@click.argument("where", metavar="NAME|FOLDER|ZIP")
def check_pack(where: str) -> None:
    """Look a pack through: every fault, with file and line, and what is poor though it loads.

    \b
    Exit status: 0 no fault, 2 faults.
    """
    from ampcite.authoring.lint import FAULT, remarks
    from ampcite.base.errors import AmpciteError
    from ampcite.law.registry import chosen_folders, dependencies

    try:
        first, *changed = chosen_folders([where])
        found = remarks(first, [*changed, *dependencies([first, *changed])])
    except AmpciteError as fault:
        stop(fault)
    for one in found:
        click.echo(f"{one.severity}: {one}")
    faults = sum(one.severity == FAULT for one in found)
    click.echo(f"{_counted(faults, 'fault')}, {_counted(len(found) - faults, 'remark')}")
    sys.exit(UNUSABLE if faults else 0)


@pack.command("try")
@click.argument("folder", metavar="NAME|FOLDER|ZIP")
@click.option("--rule", "rule_ids", multiple=True, metavar="RULE", help="Only this rule; may be given several times.")
@click.option("--file", "file", help="Only the rules of this file of the pack.")
def try_examples(folder: str, rule_ids: tuple[str, ...], file: str | None) -> None:
    """Run the examples of a pack's rules, and of its changes to others.

    \b
    Exit status: 0 all hold, 1 some do not, 2 the pack can't be used.
    """
    from ampcite.api import load
    from ampcite.authoring.testing import faults, layer_trials, trials
    from ampcite.base.errors import AmpciteError, nearest
    from ampcite.law.applied import Law
    from ampcite.law.registry import chosen_folders

    loaded = load_packs((folder,))
    mine = named(loaded)
    known = {name: one for other in loaded for name, one in other.rules.items()}
    for name in rule_ids:
        if name not in known:
            stop(f'no rule is called "{name}"; {nearest(name, known)}')
    wrong = tried = 0
    books: dict[str, Rulebook] = {}
    try:
        if mine.authority:
            todo = list(layer_trials(mine, [other for other in loaded if not other.authority], file))
        else:
            todo = [t for one in mine.rules.values() if file in (None, one.file) for t in trials(mine, one)]
        where = chosen_folders((folder,))[0]
        for trial in (t for t in todo if not rule_ids or t.rule in rule_ids):
            key = repr((trial.editions, trial.date))
            if key not in books:
                law = Law(trial.editions, (), trial.date, ())
                books[key] = load(law, where)
            tried += 1
            for said in faults(books[key], trial):
                wrong += 1
                click.echo(f"{trial.rule}, {trial.edition} edition: {trial.says or trial.expected}: {said}")
    except AmpciteError as fault:
        stop(fault)
    click.echo(f"{_counted(tried, 'example')} tried, {_counted(wrong, 'fault')}")
    sys.exit(FAILS if wrong else 0)


@pack.command("pages")
@click.argument("where", metavar="NAME|FOLDER|ZIP")
@click.argument("into", type=click.Path(path_type=Path))
def write_pages(where: str, into: Path) -> None:
    """Write a page for every rule and every change of a pack, as Markdown."""
    from ampcite.reference.pages import pack_pages

    loaded = load_packs((where,))
    mine = named(loaded)
    pages = pack_pages(mine, [other for other in loaded if not other.authority])
    write_into(into, pages)
    click.echo(f"{len(pages)} pages written to {into}")


@pack.command("carry")
@click.argument("where", metavar="NAME|FOLDER|ZIP")
@click.option("--edition", type=int, help="The edition of the electrical code to carry the layer over to.")
@click.option("--building-edition", "building", type=int, help="The edition of the residential and fire codes.")
@click.option("--from", "begins", metavar="DATE", default="", help="The first application date under it, if known.")
@click.option(
    "--write", "into", type=click.Path(path_type=Path), help="Write the carried-over draft to this new folder."
)
def carry_over(where: str, edition: int | None, building: int | None, begins: str, into: Path | None) -> None:
    """Say what becomes of each change of a layer under a later edition, and write the carried-over draft.

    \b
    Exit status: 0 every change still applies or is only renumbered, 1 some need a decision or fall away.
    """
    from ampcite.law.draft import draft, name_of
    from ampcite.law.migrate import KEPT, RENUMBERED, migration_statuses

    loaded = load_packs((where,))
    mine = loaded[-1]
    if mine.authority is None:
        stop(f"{where}: changes nothing; only a layer of local law is carried over")
    given = {"electrical": edition, "building": building}
    editions = dict(mine.authority.against) | {code: year for code, year in given.items() if year is not None}
    found = migration_statuses(mine, [other for other in loaded if other is not mine], editions, begins)
    for status in found:
        click.echo(f"{status.id}: {status.words}")
    if into is not None:
        if into.exists():
            stop(f"{into}: is there already; name a new folder")
        write_new(into, draft(mine, found, editions, begins))
        click.echo(f"draft of the pack {name_of(mine, editions)} written to {into}; next: ampcite pack check {into}")
    sys.exit(0 if all(status.outcome in (KEPT, RENUMBERED) for status in found) else FAILS)


@pack.command("wrap")
@click.argument("where", metavar="NAME|FOLDER|ZIP")
@click.argument("into", type=click.Path(path_type=Path))
def wrap(where: str, into: Path) -> None:
    """Write an ordinary Python distribution of a pack, for pip to install: its data, and an entry point."""
    from ampcite.authoring import scaffold
    from ampcite.law.files import content

    loaded = load_packs((where,))
    mine = named(loaded)
    if into.exists():
        stop(f"{into}: is there already; name a new folder")
    files = {name: data.decode("utf-8") for name, data in content(Path(mine.folder)).items()}
    write_new(into, scaffold.distribution(mine.name, mine.version, mine.title, files))
    click.echo(f"distribution written to {into}; next: python -m pip install {into}")


def _counted(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _law_in_words(side: Iterable[str], names: Mapping[str, str]) -> str:
    """One side of a comparison as a title names it."""
    said = [f"the {word} edition" if word.isdigit() else names.get(word, Path(word).name) for word in side]
    return " and ".join(said) or "the law without it"


_side: Callable[..., Callable[[Callable[..., None]], Callable[..., None]]] = click.option


law_option = click.option(
    "--law", "layers", multiple=True, metavar="FOLDER",
    help="Layers of local law that are not installed: a folder or zip file, or a folder that holds some.",
)  # fmt: skip


@click.command(epilog=CAUTION)
@click.argument("places", nargs=-1, required=True, metavar="FOLDER|FILE...")
@_side("--before", "before", multiple=True, metavar="EDITION|LAYER", help="Editions and layers of the law before.")
@_side("--after", "after", multiple=True, metavar="EDITION|LAYER", help="Editions and layers of the law after.")
@_side("--format", "form", type=click.Choice(["text", "csv", "html"]), default="text", show_default=True,
       help="One page for reading, a table, or a page for a council.")  # fmt: skip
@_side("--every", is_flag=True, help="Every verdict that changes, with its reasons, in place of the page.")
def effect(places: tuple[str, ...], before: tuple[str, ...], after: tuple[str, ...], form: str, every: bool) -> None:
    """Show what a change of law does to houses: by clause, how many newly fail, are relieved or undecided.

    Each side of the comparison names editions (a year of either code) and layers of local law, installed or as folders;
    what a side leaves open is as on the other side, and editions that neither names are the description's own. A file
    that can't be used is set aside.

    \b
    Exit status: 0 done, 2 no description or no law can be used.
    """
    from ampcite.api import load
    from ampcite.authoring import effect_page
    from ampcite.authoring.effect import Shift, by_cause, shifts
    from ampcite.base.editions import CODES
    from ampcite.base.errors import AmpciteError, InputError
    from ampcite.house.read import read
    from ampcite.law.applied import Law
    from ampcite.law.load import load_pack
    from ampcite.law.registry import chosen_folders

    files = [
        f for place in places for f in (sorted(Path(place).glob("*.json")) if Path(place).is_dir() else [Path(place)])
    ]
    if not files:
        stop(f"{places[0]}: holds no description (*.json)")
    bases = load_packs(()) if before or after else stop("name the law --before or --after, or both")
    known = {year: code for code in CODES for one in bases for year in one.editions[code]}

    def side(words: tuple[str, ...]) -> tuple[dict[str, int], list[str]]:
        years = {known[int(w)]: int(w) for w in words if w.isdigit() and int(w) in known}
        lost = [w for w in words if w.isdigit() and int(w) not in known]
        if lost:
            stop(f"no pack has rules for the {lost[0]} edition; editions known: {', '.join(map(str, sorted(known)))}")
        return years, [w for w in words if not w.isdigit()]

    found: list[Shift] = []
    aside: list[str] = []
    try:
        (a, with_a), (b, with_b) = side(before), side(after)
        for file in files:
            try:
                one = read(file)
            except InputError as fault:
                aside.append(f"{fault.complaints[0]}")
                continue
            date = str(one.whole.facts.get("codes/application_date", ""))
            books = []
            for years, layers in ((b | a, with_a), (a | b, with_b)):
                chosen = chosen_folders(layers) if layers else []
                books.append(load(Law(one.editions | years, tuple(chosen), date, ())))
            found += shifts(books[0], books[1], [one])
    except AmpciteError as fault:
        stop(fault)
    count = len(files) - len(aside)
    given = [load_pack(Path(word)) for word in (*with_a, *with_b) if Path(word).is_dir()]
    names = {str(where): one.authority.name for one in (*bases, *given) if one.authority
             for where in (one.name, one.folder)}  # fmt: skip
    title = f"The effect of {_law_in_words(after, names)}, compared with {_law_in_words(before, names)}"
    if every:
        for shift in found:
            click.echo(f"{shift.source}: {shift.label}: {shift.title} ({shift.rule}): "
                       f"{shift.before} before, {shift.after} after")  # fmt: skip
            for why in shift.why:
                click.echo(f"  {why}")
        click.echo(f"{len(found)} verdicts change, over {count} descriptions")
    elif form == "csv":
        click.echo(effect_page.as_table(by_cause(found)), nl=False)
    else:
        page = effect_page.as_html if form == "html" else effect_page.as_text
        click.echo(page(by_cause(found), count, aside, title), nl=False)
    for said in aside if every or form == "csv" else ():
        click.echo(f"set aside: {said}", err=True)
    sys.exit(0 if count else UNUSABLE)


@click.command()
@click.argument("file", metavar="DESCRIPTION")
@click.option("--write", "into", type=click.Path(path_type=Path), help="The lock file; by default it is printed.")
@law_option
def lock(file: str, into: Path | None, layers: tuple[str, ...]) -> None:
    """Pin, by content, the packs that the law of a description uses."""
    import ampcite
    from ampcite.api import law_for, load
    from ampcite.base.errors import AmpciteError
    from ampcite.house.read import read
    from ampcite.law.lock import lock as pinned

    try:
        one = read(file)
        rulebook = load(law_for(one, layers) or one.editions)
        text = pinned(rulebook.packs, rulebook.editions, ampcite.__version__)
    except AmpciteError as fault:
        stop(fault)
    if into is None:
        click.echo(text, nl=False)
    else:
        write_into(into.parent, {into.name: text})
        click.echo(f"{into} written")
