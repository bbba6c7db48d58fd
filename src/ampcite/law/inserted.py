"""Rules that a change of local law puts in whole: a label with given words, a document with a seal."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from ampcite.base.editions import ByEdition
from ampcite.law.changes import Amendment
from ampcite.law.records import Case, Citation, Derived, Pack, Rule, Work
from ampcite.law.telling import change_of, origin_of


def label(layer: Pack, one: Amendment) -> tuple[Rule, Mapping[str, Derived]]:
    """The rule that a label with given words is there, or on every part of a kind, and the quantity it needs."""
    words, each, how = one.said["words"], one.said.get("each", "/"), one.said.get("how", "exactly")
    phrase = {"exactly": "bears the words", "begins": "begins with the words", "holds": "holds the words"}[how]
    every = {"/": "A label", **({each: "A label on {each}"} if each != "/" else {})}[each]
    none = "No label" if each == "/" else "No label on {each}"
    path = "/labels/*" if each == "/" else "labels[on]"
    name = f"{one.id.replace('-', '_')}_words"
    texts, holds, derived = f"{path}/text", f"has(words_shown, {words!r})", {}
    if how != "exactly":
        test = {"begins": "begins", "holds": "bears"}[how]
        derived = {name: Derived(name, f'whether a label {phrase} "{words}"', "/labels/*", None, {"text": "text"},
                                 (Case("", f"{test}(text, {words!r})", {}),), origin_of(layer, one))}  # fmt: skip
        texts, holds = f"{path}/{name}", "any_is(words_shown)"
    title = f'A label {phrase} "{words}"'
    rule = inserted(layer, one, one.id, title, each, {"words_shown": texts}, holds, one.said.get("where", ""),
                    f'{every} {phrase} "{words}".', f'{none} {phrase} "{words}".',
                    f'Add a label that {phrase} "{words}".')  # fmt: skip
    return rule, derived


def documents(layer: Pack, one: Amendment) -> Iterable[Rule]:
    """The rules that a document is there, and that it is sealed, where a seal is asked for."""
    title = one.said["title"]
    yield inserted(
        layer, one, one.id, f'The submission holds "{title}"', "/",
        {"names": "/documents/*/id"}, f"has(names, {title!r})", one.said.get("where", ""),
        f'The submission holds "{title}".', f'The submission holds no "{title}".', f'Submit "{title}".',
    )  # fmt: skip
    if "sealed_by" in one.said:
        seal = one.said["sealed_by"]
        yield inserted(
            layer, one, f"{one.id}-seal", f'"{title}" is sealed by {seal}', "/documents/*",
            {"name": "id", "seals": "seals"},
            f"has(seals, {seal!r})", f"name == {title!r}",
            f'"{title}" is sealed by {seal}.', f'"{title}" is not sealed by {seal}.',
            f'Have "{title}" sealed by {seal}.',
        )  # fmt: skip


def inserted(layer: Pack, one: Amendment, name: str, title: str, each: str, inputs: Mapping[str, str], holds: str,
             applies: str, passes: str, fails: str, remedy: str) -> Rule:  # fmt: skip
    """A rule that a change puts in whole."""
    assert layer.authority is not None
    code = next(iter(layer.authority.against))
    cited = Citation(Work(one.work, code), ByEdition({0: one.clause}), ByEdition({0: one.read}))
    required = f"required of {one.said['scope']}" if "scope" in one.said else "required"
    change = change_of(layer, one, title, "no such rule", required, "tighter")
    words = one.said.get("scope", "") or (f'"{one.said["title"]}"' if "title" in one.said and each != "/" else "")
    own = one.inputs if "where" in one.said and applies == one.said["where"] else {}
    by = {text: ByEdition({0: text}) for text in (passes, fails, remedy)}
    return Rule(name, title, "required by local law", "requirement", (), each, words if applies else "",
                {**inputs, **own}, {}, applies, holds, (), by[passes], by[fails],
                by[remedy], "", (cited,), None, None, {}, (), one.file, (change,),
                origins={"": origin_of(layer, one)})  # fmt: skip
