"""A letter as one HTML page: printable, readable on a phone and aloud, without a network, every text escaped."""

from __future__ import annotations

from functools import cache
from typing import Any

from ampcite.letters.outline import outline
from ampcite.letters.records import Letter


def to_html(letter: Letter) -> str:
    """The page; the same letter gives the same page.

    Raises:
        ModuleNotFoundError: where Jinja2 is not installed (``pip install 'ampcite[desk]'``).
    """
    text: str = template("letter.html.j2").render(head=letter.head, blocks=outline(letter), phrases=letter.phrases)
    return text


@cache
def template(name: str, package: str = "letters") -> Any:
    """A template of this package, every value of which is escaped, and in which a misspelt name is an error."""
    import jinja2

    environment = jinja2.Environment(
        loader=jinja2.PackageLoader("ampcite", package), autoescape=True, undefined=jinja2.StrictUndefined,
        trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True,
    )  # fmt: skip
    return environment.get_template(name)
