"""Names and a table that formulas of the tests may use, without a pack."""

from types import SimpleNamespace

from ampcite.language.tree import TableType, Type
from ampcite.language.units import unit

VOLTS, FEET, PLAIN = (Type("number", unit(name)) for name in ("V", "ft", ""))
TEXT, FLAG, WORD = Type("text"), Type("flag"), Type("text", None, frozenset({"attic", "garage"}))
NAMES = {
    "voltage": VOLTS, "limit": VOLTS, "spare": VOLTS, "factor": PLAIN, "place": TEXT, "wet": FLAG, "in_sight": FLAG,
    "lengths": Type("number", unit("ft"), None, True), "gap": FEET, "kinds": Type("text", None, None, True),
    "flags": Type("flag", None, None, True), "parts": Type("items", None, None, True), "built_on": TEXT, "room": WORD,
    "rooms": Type("text", None, WORD.choices, True), "outline": Type("outline"),
}  # fmt: skip
SCOPE = SimpleNamespace(names=NAMES, tables={
    "ampacity": TableType((TEXT,), PLAIN, "Table 310.16"), "cover": TableType((FEET, WORD), FEET, "Table 300.5"),
})  # fmt: skip
