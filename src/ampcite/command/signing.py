"""The command line for a second reader of rules: what is still to be read, and marks of what was."""

from __future__ import annotations

from pathlib import Path

import click

from ampcite.command.packs import stop


@click.command("sign")
@click.argument("where", metavar="FOLDER")
@click.option("--rule", "rules", multiple=True, metavar="RULE", help="A rule that was read; or several.")
@click.option("--edition", "editions", multiple=True, type=int, help="An edition it was read at; likewise.")
@click.option("--source", default="", metavar="KEY", help="The source of the pack in which it was read.")
@click.option("--place", default="", metavar="TEXT", help="The place in that source: section, page.")
@click.option("--from", "listed", type=click.Path(path_type=Path, exists=True, dir_okay=False),
              help="Marks as CSV: rule, editions with spaces between, source, place.")  # fmt: skip
@click.option("--withdraw", is_flag=True, help="Take out the marks of rules that have changed.")
def sign(where: str, rules: tuple[str, ...], editions: tuple[int, ...], source: str, place: str,
         listed: Path | None, withdraw: bool) -> None:  # fmt: skip
    """Mark rules as read against the text, and found right, by someone who did not write them.

    Marks of rules that have changed since are taken out; --withdraw does that alone. A rule without source and place is
    marked as one of whose edition no text is to be had. Where no rule is named, what still has to be read is listed:
    rules without a mark, or changed since they had one.
    """
    from ampcite.authoring.signing import Signature, signatures, signed, unsigned
    from ampcite.base.errors import AmpciteError
    from ampcite.law.files import MARKS
    from ampcite.law.load import load_pack
    from ampcite.law.registry import chosen_folders, dependencies

    try:
        first = chosen_folders([where])[0]
        mine = load_pack(first)
        packs = {one.name: one for one in (mine, *map(load_pack, dependencies([first])))}
        new = [Signature(rule, editions, source, place) for rule in rules]
        new += signatures(listed.read_bytes()) if listed else []
        if not (new or withdraw):
            for rule, years in unsigned(mine, packs):
                click.echo(f"{rule}: {', '.join(map(str, years))}")
            return
        text = signed(mine, packs, new)
    except AmpciteError as fault:
        stop(fault)
    file = Path(mine.folder) / MARKS
    if not text:
        file.unlink(missing_ok=True)
        click.echo(f"no marks are left, and so no {file}")
        return
    file.write_text(text, "utf-8", newline="\n")
    click.echo(f"{sum(len(one.editions) for one in new)} marks written to {file}")
