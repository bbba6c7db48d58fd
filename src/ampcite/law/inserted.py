"""Rules that a change of local law puts in whole: a label with given words, a document with a seal."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ampcite.base.editions import ByEdition
from ampcite.law.changes import Amendment
from ampcite.law.records import Citation, Pack, Rule, Work
from ampcite.law.telling import change_of, origin_of


def label(layer: Pack, one: Amendment) -> Rule:
    """The rule that a label with exact words is there."""
    words = one.said["words"]
    return _inserted(
        layer, one, one.id, f'A label bears the words "{words}"', "/",
        {"words_shown": "/labels/*/text"}, f"has(words_shown, {words!r})", one.said.get("where", ""),
        f'A label bears the words "{words}".', f'No label bears the words "{words}".',
        f'Add a label with exactly these words: "{words}".',
    )  # fmt: skip


def documents(layer: Pack, one: Amendment) -> Iterable[Rule]:
    """The rules that a document is there, and that it is sealed, where a seal is asked for."""
    title = one.said["title"]
    yield _inserted(
        layer, one, one.id, f'The submission holds "{title}"', "/",
        {"titles": "/documents/*/title"}, f"has(titles, {title!r})", one.said.get("where", ""),
        f'The submission holds "{title}".', f'The submission holds no "{title}".', f'Submit "{title}".',
    )  # fmt: skip
    if "sealed_by" in one.said:
        seal = one.said["sealed_by"]
        yield _inserted(
            layer, one, f"{one.id}-seal", f'"{title}" is sealed by {seal}', "/documents/*",
            {"title": "title", "seals": "seals"},
            f"has(seals, {seal!r})", f"title == {title!r}",
            f'"{title}" is sealed by {seal}.', f'"{title}" is not sealed by {seal}.',
            f'Have "{title}" sealed by {seal}.',
        )  # fmt: skip


def _inserted(layer: Pack, one: Amendment, name: str, title: str, each: str, inputs: Mapping[str, str], holds: str,
              applies: str, passes: str, fails: str, remedy: str) -> Rule:  # fmt: skip
    assert layer.authority is not None
    code = next(iter(layer.authority.against))
    key = next((k for k, work in layer.works.items() if work.title == one.work), "")
    cited = Citation(Work(key, one.work, code), ByEdition({0: one.clause}), ByEdition({0: one.read}))
    change = change_of(layer, one, f'"{title}"', "no such rule", "required", "tighter")
    words = one.said.get("scope", "") or (f'"{one.said["title"]}"' if each != "/" else "")
    by = {text: ByEdition({0: text}) for text in (passes, fails, remedy)}
    return Rule(name, title, "required by local law", "requirement", (), each, words if applies else "",
                {**inputs, **(one.inputs if each == "/" else {})}, {}, applies, holds, (), by[passes], by[fails],
                by[remedy], "", (cited,), None, None, {}, (), one.file, (change,),
                origins={"": origin_of(layer, one)})  # fmt: skip
