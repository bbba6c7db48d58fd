"""The files of a new pack: a rule of its own with examples, or a layer of local law with one change, that work."""

from __future__ import annotations

from ampcite.base.editions import CODES, Editions


def rules(name: str, edition: int) -> dict[str, str]:
    """A pack with one rule, to be rewritten."""
    return {"pack.toml": _RULES_HEAD.format(name=name, edition=edition), "rules.toml": _RULES.format(edition=edition),
            "rules.examples.toml": _EXAMPLES}  # fmt: skip


def layer(name: str, authority: str, level: str, editions: Editions) -> dict[str, str]:
    """A layer of local law with one change and one label, to be rewritten."""
    against = ", ".join(f"{code} = {year}" for code, year in editions.items())
    head = _LAYER_HEAD.format(
        name=name, authority=authority, level=level, against=against, edition=editions["electrical"],
        building=f"building_editions = [{editions['building']}]\n" if "building" in editions else "",
        adopts="\n".join(f"{code} = {year}" for code, year in editions.items()),
        codes=" and ".join(f"{editions[c]} {words}" for c, words in CODES.items() if c in editions),
    )  # fmt: skip
    return {"pack.toml": head, "changes.toml": _CHANGES, "changes.examples.toml": _CHANGE_EXAMPLES}


def distribution(name: str, version: str, title: str, files: dict[str, str]) -> dict[str, str]:
    """The files of an ordinary Python distribution that holds a pack and the entry point by which it is found.

    Args:
        name: the name of the pack.
        version: its version.
        title: what it is about.
        files: its files.
    """
    module = f"{name.replace('-', '_')}_pack"
    return {
        "pyproject.toml": _PROJECT.format(name=name, version=version, title=title.replace('"', "'"), module=module),
        "README.md": f"# {name}\n\n{title}\n\nA pack of rules as data, found by ampcite once this is installed.\n",
        f"src/{module}/__init__.py": _MODULE.format(name=name),
        **{f"src/{module}/{name}/{file}": text for file, text in files.items()},
    }


_PROJECT = """\
[build-system]
requires = ["hatchling"]
build-backend = "hatchling.build"

[project]
name = "{name}-pack"
version = "{version}"
description = "{title}"
readme = "README.md"
requires-python = ">=3.11"
dependencies = ["ampcite"]

[project.entry-points.ampcite]
{name} = "{module}"

[tool.hatch.build.targets.wheel]
packages = ["src/{module}"]
"""

_MODULE = """\
\"\"\"The pack {name} is data; this only says where it lies.\"\"\"

from pathlib import Path

from ampcite.law.plugins import offers


@offers
def ampcite_packs() -> list[Path]:
    return [Path(__file__).parent / "{name}"]
"""

_RULES_HEAD = """\
# The head of the pack: what it is, which editions it knows, what it cites, and where its figures were read.
[pack]
name = "{name}"
title = "[what the pack is about]"
version = "0.1.0"
editions = [{edition}]
work = "own"

[pack.works]
own = "[name of the local rules],"

[pack.sources]
paper = {{ title = "[the paper the figures were read in]", body = "[who published it]", year = "{edition}" }}

[pack.readings]
paper = {{ {edition} = "paper" }}
"""

_RULES = """\
[[parameter]]
name = "least_letter_height"
meaning = "least height of the letters of a label"
unit = "in"
stricter = "higher"
value = {{ {edition} = "0.25" }}
clause = {{ {edition} = "section 1" }}
read = "paper"

[[rule]]
id = "label-letters-too-low"
title = "The letters of a label are high enough to be read"
family = "local labels"
force = "requirement"
each = "/labels/*"
inputs = {{ letter_height = "letter_height" }}
holds = "letter_height >= least_letter_height"
passes = "The letters of {{each}} are {{letter_height}} high."
fails = "The letters of {{each}} are {{letter_height}} high; {{least_letter_height}} is the least."
remedy = "Replace {{each}} by a label with letters of {{least_letter_height}} or more."
cite = [{{ clause = {{ {edition} = "section 1" }}, read = "paper" }}]
"""

_EXAMPLES = """\
# The examples of rules.toml. This one is three tests: at the limit, and a step to either side.
[[label-letters-too-low.example]]
limit = { of = "labels/0/letter_height", at = 0.25, step = 0.01, passes = "at or above" }
"""

_LAYER_HEAD = """\
# A layer of local law: who speaks, what it changes, what it adopts from which date.
[pack]
name = "{name}"
title = "What {authority} changes in the {codes}"
version = "0.1.0"
editions = [{edition}]
{building}work = "local"

[pack.works]
local = "{authority} Code,"

[pack.sources]
ordinance = {{ title = "[title of the ordinance]", body = "{authority}", year = "2026" }}

[authority]
name = "{authority}"
level = "{level}"
against = {{ {against} }}

[[adoption]]
begins = "2026-01-01"
{adopts}
layers = ["{name}"]
ordinance = "[number of the ordinance]"
"""

_CHANGES = """\
# One change: a switch handle must be lower than the electrical code asks. `expects` is what the code has; loading fails
# when it has something else.
[[amend]]
id = "handle-height"
do = "tighten"
parameter = "handle_height_limit"
expects = "79"
to = "72"
why = "The fire department asks for handles that are reached in full gear."
clause = "section 1"
read = "ordinance"

# A label with exact words.
[[amend]]
id = "local-placard"
do = "label"
words = "SOLAR ELECTRIC SYSTEM ON THIS ROOF"
why = "The fire department asks for it."
clause = "section 2"
read = "ordinance"
"""

_CHANGE_EXAMPLES = """\
# The examples of changes.toml. The first is three tests: at the limit, and a step to either side.
[handle-height.set]
"disconnects/0/kind" = "unfused switch"
"disconnects/0/role" = "pv system disconnect"

[[handle-height.example]]
rule = "handle-too-high"
limit = { of = "disconnects/0/handle_height", at = 72, step = 1, passes = "at or below" }

[[local-placard.example]]
set = { "labels/0/text" = "SOLAR ELECTRIC SYSTEM ON THIS ROOF" }
verdict = "pass"

[[local-placard.example]]
set = { "labels/0/text" = "SOLAR" }
verdict = "fail"
"""
