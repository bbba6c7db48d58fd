"""The command line: check descriptions, print the shipped example, list packs and rules, explain one rule."""

from __future__ import annotations

import sys
from collections.abc import Iterator

import click

from ampcite.base.stages import STAGES
from ampcite.command import packs as pack_commands
from ampcite.command.letter import letter
from ampcite.command.output import Command, in_utf_8
from ampcite.command.packs import CAUTION, FAILS, NOTHING, UNDECIDED, UNUSABLE
from ampcite.command.prepare import packs_option as _packs
from ampcite.command.prepare import prepared
from ampcite.command.review import review as review_command
from ampcite.command.signing import sign
from ampcite.command.site import site
from ampcite.command.start import start
from ampcite.report import writer, writers


def _version(ctx: click.Context, _: click.Parameter, value: bool) -> None:
    if value:
        import ampcite

        click.echo(f"ampcite {ampcite.__version__}")
        ctx.exit()


@click.group(
    cls=Command, epilog=CAUTION, context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100}
)
@click.option("--version", is_flag=True, expose_value=False, is_eager=True, callback=_version,
              help="Print the version.")  # fmt: skip
def main() -> None:
    """Checks the description of a house's solar-electric system against code rules kept as data.

    \b
    Exit status of every command, besides its own: 2 an input can't be used, 70 a fault of ampcite itself,
    74 output could not be written whole, 130 stopped by the user.
    """


@main.command(epilog=CAUTION)
@click.argument("files", nargs=-1, required=True, metavar="FILE...")
@click.option("--edition", "editions", type=int, multiple=True,
              help="Edition of the electrical code, or several; by default the one the description names.")  # fmt: skip
@click.option("--building-edition", "building", type=int,
              help="Edition of the residential and fire codes; by default the one the description names.")  # fmt: skip
@click.option("--format", "form", type=click.Choice(writers()), default="text", show_default=True,
              help="jsonl has a line for each file, after a line of what they share.")  # fmt: skip
@click.option("--stage", type=click.Choice(STAGES),
              help="Where the job is, if not as the file says; what can't be known by then is put apart.")  # fmt: skip
@click.option("--subject", "subjects", multiple=True, metavar="SUBJECT",
              help="Ask about this only: strings, wiring, roof, labels...; may be given several times.")  # fmt: skip
@click.option("--every", is_flag=True, help="Write out passes with their arithmetic, and what does not apply.")
@click.option("--hold-unconfirmed", "hold", is_flag=True,
              help="Warn, and do not fail, where no clause behind a failure was read anywhere.")  # fmt: skip
@click.option("--lock", "lock_file", type=click.Path(), metavar="FILE",
              help="Hold the packs to a lock file, or to those of an earlier report as JSON.")  # fmt: skip
@pack_commands.law_option
@_packs
def check(files: tuple[str, ...], editions: tuple[int, ...], building: int | None, form: str, stage: str | None,
          subjects: tuple[str, ...], every: bool, hold: bool, lock_file: str | None,
          layers: tuple[str, ...], packs: tuple[str, ...]) -> None:  # fmt: skip
    """Check descriptions; - reads one from the standard input.

    \b
    Exit status: 0 nothing fails and everything was decided, 1 something fails,
    2 an input or a pack can't be used, 3 nothing was checked, 4 nothing fails but something
    can't be decided yet. Of several files the most serious counts: 2, then 1, 3, 4.
    """
    from ampcite.base.errors import AmpciteError
    from ampcite.engine.check import check as run
    from ampcite.report import batch
    from ampcite.report.entries import Detail, Entry, Refused
    from ampcite.reviewing.comments import at_stage, review
    from ampcite.reviewing.subjects import rules_about

    chosen = writer(form)
    if chosen.UTF_8:
        in_utf_8()
    lines: list[batch.Line] = []

    def checked(file: str, edition: int | None) -> Entry:
        try:
            rulebook, description = prepared(file, edition, building, lock_file, packs, layers, hold)
            if chosen.COMMENTS:
                return review(rulebook, description, stage=stage or "", subjects=subjects)
            about = subjects or description.subjects
            asked = rules_about(rulebook.bound, about) if about else None
            return run(rulebook, at_stage(description, stage or ""), rules=asked)
        except AmpciteError as fault:
            click.echo("\n".join(str(c) if c.file else f"{file}: {c}" for c in fault.complaints), err=True)
            return Refused(file, fault, edition)

    def entries() -> Iterator[Entry]:
        for file in dict.fromkeys(files):
            for edition in editions or (None,):
                entry = checked(file, edition)
                lines.append(batch.line(entry))
                yield entry

    for text in chosen.write(entries(), Detail(passes=every, not_applicable=every)):
        click.echo(text, nl=False)
    outcomes = {line.outcome for line in lines}
    sys.exit(next((status for outcome, status in _STATUS.items() if outcome in outcomes), 0))


SCHEMAS = ("description", "pack", "examples", "report", "report-lines", "letter", "edits", "batch", "submissions-row",
           "findings-row")  # fmt: skip

_STATUS = {"can't be used": UNUSABLE, "fails": FAILS, "nothing checked": NOTHING, "undecided": UNDECIDED}
"""The exit status by what came of a submission, the most serious first; of others 0."""


@main.command()
@click.argument("name", required=False)
def example(name: str | None) -> None:
    """Print a shipped example description; without NAME, the first of them. "list" lists them."""
    from ampcite.base.errors import nearest
    from ampcite.base.resources import designs, houses, plan_sets

    known = {p.stem: p for p in (*houses(), *plan_sets(), *designs())}
    if name == "list":
        click.echo("\n".join(known))
        return
    in_utf_8()
    chosen = name or next(iter(known))
    if chosen not in known:
        click.echo(f'no example is called "{chosen}"; {nearest(chosen, known)}', err=True)
        sys.exit(UNUSABLE)
    click.echo(known[chosen].read_text("utf-8"), nl=False)


@main.command()
def packs() -> None:
    """List the installed packs."""
    from ampcite.base.editions import CODES

    for pack in pack_commands.load_packs(()):
        editions = "; ".join(f"{words} {', '.join(map(str, pack.editions[code]))}"
                             for code, words in CODES.items() if pack.editions[code])  # fmt: skip
        click.echo(f"{pack.name} {pack.version}  {len(pack.rules)} rules, {editions}\n  {pack.title}")


@main.command()
@_packs
def rules(packs: tuple[str, ...]) -> None:
    """List the rules."""
    for pack in pack_commands.load_packs(packs):
        click.echo(f"{pack.name}")
        family = ""
        for rule in pack.rules.values():
            if rule.family != family:
                family = rule.family
                click.echo(f"  {family}")
            click.echo(f"    {rule.id}\n      {rule.title}")


@main.command()
@click.argument("rule_id", metavar="RULE")
@_packs
def rule(rule_id: str, packs: tuple[str, ...]) -> None:
    """Explain one rule: its text, its figures by edition, its clauses, its examples."""
    from ampcite.base.errors import nearest
    from ampcite.reference.pages import rule_page

    loaded = pack_commands.load_packs(packs)
    for pack in loaded:
        if rule_id in pack.rules:
            click.echo(rule_page(pack, pack.rules[rule_id]), nl=False)
            click.echo(f"\n{CAUTION}")
            return
    known = [r for pack in loaded for r in pack.rules]
    click.echo(f'no rule is called "{rule_id}"; {nearest(rule_id, known)}', err=True)
    sys.exit(UNUSABLE)


@main.command()
@click.argument("section", required=False)
@click.option("--edition", type=int, help="Look for SECTION in this edition only.")
def sections(section: str | None, edition: int | None) -> None:
    """Show where a subject stands in each edition of its code, and what the packs have of a section.

    SECTION is a number of any edition, such as "690.31(G)" or R328; without it, the whole map. Of a section, the rules
    that rest on it, its figures, tables and questions are listed by the names by which local law changes them, at
    --edition or the latest.
    """
    from ampcite.reference import holdings
    from ampcite.reference.sections import about, as_text, cited, shipped, unknown

    loaded = pack_commands.load_packs(())
    whole = (*shipped(), *cited(loaded))
    found = whole if section is None else about(section, whole, edition)
    has = holdings.as_text(loaded, section, edition) if section is not None else ""
    if not found and not has:
        pack_commands.stop(unknown(section or "", whole, edition))
    click.echo("\n".join(filter(None, [as_text(found, whole) if found else "", has])), nl=False)
    click.echo(f"\n{CAUTION}")


@main.command()
@click.argument("name", type=click.Choice(SCHEMAS))
def schema(name: str) -> None:
    """Print a JSON Schema, for editors that complete and check files by it."""
    from ampcite.base.resources import shipped

    in_utf_8()
    click.echo((shipped("schemas") / f"{name}.schema.json").read_text("utf-8"), nl=False)


main.add_command(start)
main.add_command(letter)
main.add_command(review_command)
main.add_command(site)
main.add_command(pack_commands.pack)
pack_commands.pack.add_command(sign)
main.add_command(pack_commands.effect)
main.add_command(pack_commands.lock)
