"""What a batch knows of its submissions, kept on the disk: as much memory for a million as for a thousand."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping
from typing import Any, NamedTuple


class Found(NamedTuple):
    """One submission as it was found: what it is called, the digest of its content, the key of its result."""

    name: str
    content: str
    key: str


Span = tuple[str, int, int, str | None, int | None]
"""Where a result stands in its file: its key, where it begins, its length; and the permit and revision it is of."""


class Index:
    """Names, keys and places of results. It is of this run alone, and gone when that ends, however it ends."""

    def __init__(self) -> None:
        self._base = sqlite3.connect("", isolation_level=None)  # a file of the system's own that nobody else sees
        self._base.executescript("""
            PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF; PRAGMA cache_size = -8000;
            CREATE TABLE found (n INTEGER PRIMARY KEY, name TEXT UNIQUE, content TEXT, key TEXT, same INTEGER,
                                outcome TEXT);
            CREATE INDEX by_content ON found (content);
            CREATE INDEX by_key ON found (key);
            CREATE TABLE times (name TEXT PRIMARY KEY, n INTEGER) WITHOUT ROWID;
            CREATE TABLE results (key TEXT PRIMARY KEY, file INTEGER, at INTEGER, length INTEGER, permit TEXT,
                                  revision INTEGER) WITHOUT ROWID;
            CREATE TABLE before (name TEXT PRIMARY KEY, content TEXT, outcome TEXT) WITHOUT ROWID;
            BEGIN;
        """)

    def close(self) -> None:
        """Lets go of what is on the disk."""
        self._base.close()

    # --- what was found --------------------------------------------------------------------------------------------

    def named(self, name: str) -> str:
        """A name that no other submission has: of several with one, each gets its own."""
        ask = ("INSERT INTO times VALUES (?, 1) ON CONFLICT DO UPDATE SET n = n + 1 RETURNING n", (name,))
        while (n := self._base.execute(*ask).fetchone()[0]) > 1:
            numbered = f"{name} ({n})"
            if not self._base.execute("SELECT 1 FROM times WHERE name = ?", (numbered,)).fetchone():
                self._base.execute("INSERT INTO times VALUES (?, 1)", (numbered,))
                return numbered
        return name

    def add(self, one: Found, whole: bool) -> None:
        """Takes in a submission, in the order of the source; one that is not whole is the same as no other."""
        same = None
        if whole:
            same = self._base.execute("SELECT n FROM found WHERE content = ? AND same IS NULL",
                                      (one.content,)).fetchone()  # fmt: skip
        self._base.execute("INSERT INTO found (name, content, key, same) VALUES (?, ?, ?, ?)",
                           (*one, same[0] if same else None))  # fmt: skip

    def __len__(self) -> int:
        return int(self._base.execute("SELECT count(*) FROM found").fetchone()[0])

    def found(self) -> Iterator[Found]:
        """All submissions in the order of the source."""
        for row in self._base.execute("SELECT name, content, key FROM found ORDER BY n"):
            yield Found(*row)

    def digest(self) -> str:
        """Names the submissions and what their results rest on."""
        out = hashlib.sha256()
        for one in self.found():
            out.update(json.dumps(one).encode())
        return out.hexdigest()[:40]

    def count(self, keys: Iterable[str]) -> int:
        """How many submissions have one of these keys."""
        return sum(self._base.execute("SELECT count(*) FROM found WHERE key = ?", (key,)).fetchone()[0]
                   for key in keys)  # fmt: skip

    def done(self) -> int:
        """How many submissions have a result."""
        return int(self._base.execute("SELECT count(*) FROM found JOIN results USING (key)").fetchone()[0])

    def wanted(self) -> Iterator[bool]:
        """Of each submission, in order, whether its result is to be made: the first of its key, and none there yet."""
        ask = """SELECT f.key IN (SELECT key FROM results)
                        OR EXISTS (SELECT 1 FROM found b WHERE b.key = f.key AND b.n < f.n) FROM found f ORDER BY f.n"""
        for (there,) in self._base.execute(ask):
            yield not there

    # --- where results are -----------------------------------------------------------------------------------------

    def place(self, file: int, spans: Iterable[Span]) -> None:
        """Takes in the results of a file; one that is there already stays."""
        self._base.executemany("INSERT OR IGNORE INTO results VALUES (?, ?, ?, ?, ?, ?)",
                               ((key, file, at, *more) for key, at, *more in spans))  # fmt: skip

    def where(self, key: str) -> tuple[int, int, int] | None:
        """The file of a result, where it begins there, and its length."""
        found: tuple[int, int, int] | None = self._base.execute(
            "SELECT file, at, length FROM results WHERE key = ?", (key,)).fetchone()  # fmt: skip
        return found

    # --- what they are to each other -------------------------------------------------------------------------------

    def marked(self) -> Iterator[tuple[Found, dict[str, str | None]]]:
        """All submissions, with the one each is the same as, is replaced by, or is at odds with.

        A permit's last revision replaces those before; two files for one permit and revision are at odds.
        """
        self._base.execute("""CREATE TEMP TABLE marks AS
            SELECT n, CASE WHEN revision < max(revision) OVER permits THEN first_value(name) OVER newest END replaced,
                   CASE WHEN count(*) OVER alike = 1 THEN NULL
                        WHEN first_value(n) OVER ordered = n THEN lead(name) OVER ordered
                        ELSE first_value(name) OVER ordered END other
            FROM (SELECT n, name, permit, ifnull(revision, 0) revision FROM found JOIN results USING (key)
                  WHERE same IS NULL AND permit IS NOT NULL)
            WINDOW permits AS (PARTITION BY permit), newest AS (PARTITION BY permit ORDER BY revision DESC, n),
                   alike AS (PARTITION BY permit, revision), ordered AS (PARTITION BY permit, revision ORDER BY n)""")
        self._base.execute("CREATE INDEX temp.by_n ON marks (n)")
        ask = """SELECT f.name, f.content, f.key, s.name, m.replaced, m.other FROM found f
                 LEFT JOIN found s ON s.n = f.same LEFT JOIN marks m ON m.n = f.n ORDER BY f.n"""
        for *one, same, replaced, other in self._base.execute(ask):
            yield Found(*one), {"same_as": same, "superseded_by": replaced, "conflicts_with": other}

    # --- what came of them, and what had come before -----------------------------------------------------------------

    def came(self, name: str, outcome: str) -> None:
        """Takes in what came of a submission."""
        self._base.execute("UPDATE found SET outcome = ? WHERE name = ?", (outcome, name))

    def outcomes(self) -> Iterator[tuple[str, str, str]]:
        """The name of each submission, the digest of its content, and what came of it."""
        yield from self._base.execute("SELECT name, content, outcome FROM found ORDER BY n")

    def before(self, rows: Iterable[tuple[str, str, str]]) -> None:
        """Takes in the outcomes of another run."""
        self._base.executemany("INSERT OR REPLACE INTO before VALUES (?, ?, ?)", rows)

    def changes(self) -> Mapping[str, Any]:
        """What is other than in that run: counts of names that are new, gone, of other content, of other outcome."""
        def number(ask: str) -> int:
            return int(self._base.execute(f"SELECT count(*) FROM {ask}").fetchone()[0])

        both = "found f JOIN before b USING (name)"
        moved = Counter({(was, now): n for was, now, n in self._base.execute(
            f"SELECT b.outcome, f.outcome, count(*) FROM {both} WHERE b.outcome <> f.outcome GROUP BY 1, 2")})
        return {
            "first_run": False, "added": len(self) - number(both), "gone": number("before") - number(both),
            "sent_again": number(f"{both} WHERE b.content <> f.content"),
            "outcomes": [{"was": was, "is": now, "submissions": n} for (was, now), n in
                         sorted(moved.items(), key=lambda one: (-one[1], one[0]))],
        }  # fmt: skip
