"""A description of a house's system: JSON in, parts with their facts out, or one clear complaint for each fault."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import attrs

from ampcite.base.errors import Complaint, InputError, short
from ampcite.house.gather import gather
from ampcite.house.marks import Marks, stated, still_of_example
from ampcite.house.parts import Description
from ampcite.house.validate import catalogue_errors, is_valid, schema_errors
from ampcite.house.values import TOO_DEEP, as_json, parse_fast, parse_json


def read(source: str | Path | bytes | Mapping[str, Any], name: str | None = None,
         catalogue: Mapping[str, Any] | None = None) -> Description:  # fmt: skip
    """Reads a description. The text "?" in place of a value says that it is still to be stated.

    Args:
        source: a path, a JSON text (or its bytes), or the JSON value itself.
        name: what complaints call it; by default the path, or "description".
        catalogue: equipment models for a source that is no path, shaped as the description's own ``equipment``. A
            path's catalogue files are looked for beside it.

    Raises:
        InputError: with every fault found, each with its place.
    """
    if isinstance(source, str) and source.lstrip().startswith("{"):
        source = source.encode("utf-8", "surrogatepass")
    folder = None
    if isinstance(source, str | Path):
        name, folder = name or str(source), Path(source).parent
        source = _bytes(Path(source), name)
    name = name or "description"
    if not isinstance(source, bytes):
        return _read(as_json(source, name), name, folder, catalogue, True)
    document = parse_fast(source)
    if document is not None:
        try:
            return _read(document, name, folder, catalogue, b'"?"' in source)
        except InputError:
            pass  # what is wrong is said of the values as they are written
    return _read(parse_json(source, name), name, folder, catalogue, True)


def read_own(document: Mapping[str, Any], catalogue: Mapping[str, Any]) -> Description:
    """What a JSON value describes that this package made of one it has read; it is held as it is, and not copied.

    Raises:
        InputError: with every fault found.
    """
    return _read(document, "description", None, catalogue, True)


def _read(document: Any, name: str, folder: Path | None, catalogue: Mapping[str, Any] | None,
          marked: bool) -> Description:  # fmt: skip
    """What a JSON value describes; it is looked through for marks where it may be marked."""
    if not isinstance(document, dict):
        raise InputError([Complaint(name, "", f"is {short(document)}; a description is a JSON object")])
    said, marks, still_open = document, tuple[str, ...](), Marks()
    try:
        if marked:
            said, marks, still_open = stated(document)
    except RecursionError:
        raise InputError([Complaint(name, "", TOO_DEEP)]) from None
    complaints, refused = schema_errors(said, name)
    if complaints:
        raise InputError(dict.fromkeys([*complaints, *_further(said, refused, name)]))
    description = gather(said, name, _catalogue(said, name, folder, catalogue), still_open)
    return attrs.evolve(description, document=document, to_state=marks, taken_over=still_of_example(document))


def with_given(description: Description, given: Mapping[str, object]) -> Description:
    """The description with facts of the whole that law gives, by path, where it does not state them itself."""
    document = dict(description.document)
    for path, value in given.items():
        here = document
        *groups, last = path.split("/")
        for key in groups:
            inner = here.get(key, {})
            if not isinstance(inner, Mapping):
                break
            here[key] = here = dict(inner)
        else:
            here.setdefault(last, value)
    said, marks, still_open = stated(document)
    out = gather(said, description.source, description.catalogue, still_open)
    return attrs.evolve(out, document=document, to_state=marks, taken_over=description.taken_over)


def _bytes(path: Path, name: str) -> bytes:
    try:
        return path.read_bytes()
    except (OSError, ValueError) as fault:
        said = getattr(fault, "strerror", None) or fault
        raise InputError([Complaint(name, "", f"can't be read: {said}")]) from None


def _catalogue(document: Mapping[str, Any], name: str, folder: Path | None,
               given: Mapping[str, Any] | None) -> Mapping[str, Any]:  # fmt: skip
    """The equipment models of the catalogues a description names, those named first before those named later."""
    if given is not None:
        complaints = catalogue_errors(given, "catalogue")
        if complaints:
            raise InputError(complaints)
        return given
    out: dict[str, dict[str, Any]] = {}
    for i, file in enumerate(document.get("catalogue", ())):
        if folder is None:
            said = f'names the file "{file[:60]}" in no folder; give its models to read() as `catalogue`'
            raise InputError([Complaint(name, f"/catalogue/{i}", said)])
        path = folder / file
        models = parse_json(_bytes(path, str(path)), str(path))
        complaints = catalogue_errors(models, str(path))
        if complaints:
            raise InputError(complaints)
        for kind, entries in models.items():
            out[kind] = {**entries, **out.get(kind, {})}
    return out


def _further(document: Mapping[str, Any], found: list[Any], name: str) -> tuple[Complaint, ...]:
    """What else is wrong once the fields that the schema refuses are left out, where they can be."""
    try:
        pruned = copy.deepcopy(document)
    except RecursionError:
        return ()
    for error in found:
        path = list(error.absolute_path)
        if error.validator == "additionalProperties":
            extra = [key for key in error.instance if key not in error.schema["properties"]]
        elif path and isinstance(path[-1], str) and path[-1] != "id":
            path, extra = path[:-1], [path[-1]]
        else:
            return ()
        here: Any = pruned
        for step in path:
            here = here[step] if isinstance(here, list) or step in here else {}
        for key in extra:
            here.pop(key, None)
    if not is_valid(pruned):
        return ()
    try:
        gather(pruned, name, {})
    except InputError as fault:
        unknown_list = any(e.validator == "additionalProperties" and not e.absolute_path for e in found)
        return tuple(c for c in fault.complaints if not (unknown_list and "is no part of" in c.message))
    return ()
