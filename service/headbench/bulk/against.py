"""Against: answers held against those of an earlier run, line by line, and what came of that put in order.

Both files are read side by side, so their length does not matter; what has changed is kept in a database of its own
on the disk, which puts it in order and counts it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final

import msgspec

from headbench.api.app import RESOURCES
from headbench.bulk.changes import WORST_FIRST, Change, Comparison, Weighed, has_worsened
from headbench.bulk.fitted import Ask, as_fitted, shimmed_otherwise
from headbench.bulk.quantities import NO_SHAPE, Tolerances, shape_of
from headbench.bulk.results import Unusable, lines_of

HEADS: Final = "head-assembly"
_ANSWERS: Final[dict[str, type[msgspec.Struct]]] = {resource.kind: resource.answer for resource in RESOURCES}
_FINE: Final = 200
_MOST_NAMED: Final = 5
"""Jobs that are named one by one among those judged as before although checks of theirs turned worse."""
_MOST_ANSWER_BYTES: Final = 50_000_000
"""Longest line of results that is read; the largest answer there is takes a tenth of it."""


class _Kind(msgspec.Struct, frozen=True):
    kind: str = ""


class _Answered(msgspec.Struct, frozen=True):
    line: int
    status: int
    id: str | None = None
    answer: msgspec.Raw = msgspec.Raw(b"{}")


_TABLES: Final = """
CREATE TABLE changes (sort INTEGER, verdict INTEGER, amount REAL, line INTEGER, head INTEGER, name TEXT, figure INTEGER,
 limited INTEGER, judged TEXT, text BLOB);
CREATE TABLE jobs (line INTEGER, head INTEGER, was TEXT, now TEXT);
"""
_WORST: Final = "ORDER BY sort, verdict DESC, amount DESC, line, rowid"


@dataclass(frozen=True, slots=True)
class Reason:
    """A check whose verdict changed: in how many jobs, of those because its limit or its figure is another."""

    check: str
    jobs: int
    by_limit: int
    by_figure: int


@dataclass(frozen=True, slots=True)
class Turn:
    """How many jobs went from one verdict to another."""

    was: str
    now: str
    jobs: int


@dataclass(frozen=True, slots=True)
class Worse:
    """A job that is judged as before although checks of it turned worse: which, its verdict, and those checks."""

    line: int
    id: str | None
    verdict: str
    checks: list[Change]


@dataclass
class Counted:
    """Jobs of one sort that were compared, those judged otherwise, from what to what, and why.

    worse_within : how many are judged as before although a check of theirs turned worse
    worst_within : the worst of these
    """

    compared: int = 0
    otherwise: int = 0
    worse_within: int = 0
    worst_within: list[Worse] = field(default_factory=list)
    turns: list[Turn] = field(default_factory=list)
    reasons: list[Reason] = field(default_factory=list)


@dataclass
class Found:
    """What came of a comparison.

    heads, others : jobs by whether they are whole heads
    by_what : how many changes of each sort, worst first
    worst : the worst changes
    only_now, only_then : lines that one of the two has alone
    renamed : lines whose job is called otherwise in the two, so that they were not compared
    unreadable : lines of the earlier results that cannot be read
    on_todays_shims : heads that would be shimmed otherwise, and that nobody answers on the shims they went out with
    """

    heads: Counted = field(default_factory=Counted)
    others: Counted = field(default_factory=Counted)
    by_what: dict[str, int] = field(default_factory=dict)
    worst: list[Change] = field(default_factory=list)
    only_now: int = 0
    only_then: int = 0
    renamed: int = 0
    unreadable: int = 0
    on_todays_shims: int = 0


def compare(
    jobs: Path,
    results: Path,
    earlier: Path,
    tolerances: Tolerances,
    changes: Path | None,
    most_shown: int,
    ask: Ask,
) -> Found:
    """Hold the results of some jobs against earlier ones; every change goes to `changes`, worst first.

    A head that would be shimmed otherwise today is asked about once more, with the shims it went out with.

    Raises Unusable.
    """
    found = Found()
    with _database() as kept:
        for kind, job, then, now in _pairs(jobs, results, earlier, found):
            _compare(kind, job, then, now, tolerances, kept, found, ask)
        for counted, head in ((found.heads, 1), (found.others, 0)):
            _count(kept, counted, head)
        per_sort = dict(kept.execute("SELECT sort, COUNT(*) FROM changes GROUP BY sort"))
        found.by_what = {what: per_sort[sort] for sort, what in enumerate(WORST_FIRST) if sort in per_sort}
        worst = kept.execute(f"SELECT text FROM changes {_WORST} LIMIT ?", (most_shown,))  # noqa: S608 - our own words
        found.worst = [msgspec.json.decode(text, type=Change) for (text,) in worst]
        if changes is not None:
            _write_down(kept, changes)
    return found


def _pairs(jobs: Path, results: Path, earlier: Path, found: Found) -> Iterator[tuple[str, bytes, _Answered, _Answered]]:
    """The kind of each job, the job, and its two answers; counts the lines that are no pair."""
    kinds = _kinds(jobs)
    before = _answers(earlier, found)
    then = next(before, None)
    for now in _answers(results, found):
        kind, job = next((kind, job) for number, kind, job in kinds if number == now.line)
        while then is not None and then.line < now.line:
            found.only_then += 1
            then = next(before, None)
        if then is None or then.line > now.line:
            found.only_now += 1
            continue
        if None not in {then.id, now.id} and then.id != now.id:
            found.renamed += 1
        else:
            yield kind, job, then, now
        then = next(before, None)
    found.only_then += (then is not None) + sum(1 for _ in before)


def _kinds(jobs: Path) -> Iterator[tuple[int, str, bytes]]:
    for number, raw in lines_of(jobs):
        try:
            yield number, msgspec.json.decode(raw or b"{}", type=_Kind).kind, raw or b""
        except (msgspec.DecodeError, ValueError, RecursionError):
            yield number, "", b""


def _answers(path: Path, found: Found) -> Iterator[_Answered]:
    last = 0
    for _, raw in lines_of(path, _MOST_ANSWER_BYTES):
        try:
            one = msgspec.json.decode(raw or b"", type=_Answered)
        except (msgspec.DecodeError, ValueError, RecursionError):
            found.unreadable += 1
            continue
        if one.line <= last:
            raise Unusable(f"{path} has line {one.line} behind line {last}; it is no file of answers in their order.")
        last = one.line
        yield one


def _compare(
    kind: str,
    job: bytes,
    then: _Answered,
    now: _Answered,
    tolerances: Tolerances,
    kept: sqlite3.Connection,
    found: Found,
    ask: Ask,
) -> None:
    counted = found.heads if kind == HEADS else found.others
    counted.compared += 1
    if then.status == now.status and bytes(then.answer) == bytes(now.answer):
        return
    before, after = _read(then), _read(now)
    changes: list[Weighed] = []
    if kind == HEADS and (then.status, now.status) == (_FINE, _FINE):
        compared = Comparison(now.line, now.id, kind, after.get("units", {}), tolerances)
        changes += [compared.shimmed(*one) for one in shimmed_otherwise(before, after)]
        if changes:
            held = msgspec.json.decode(ask(now.line, as_fitted(job, before)), type=_Answered)
            if held.status == _FINE:
                # what would be laid out today is that of today's own choice
                now, after = held, _read(held) | {"shim_totals": after.get("shim_totals", [])}
            else:
                found.on_todays_shims += 1
    was, is_now = _verdict(then, before), _verdict(now, after)
    if was != is_now:
        kept.execute("INSERT INTO jobs VALUES (?, ?, ?, ?)", (now.line, kind == HEADS, was, is_now))
    kept.executemany(
        "INSERT INTO changes VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (_row(one, is_now) for one in (*changes, *_changes(kind, now, then.status, before, after, tolerances))),
    )


def _read(one: _Answered) -> dict[str, Any]:
    """What an answer says; nothing where it is no object."""
    try:
        return msgspec.json.decode(one.answer, type=dict[str, Any])
    except msgspec.DecodeError:
        return {}


def _changes(
    kind: str, now: _Answered, status_was: int, before: dict[str, Any], after: dict[str, Any], tolerances: Tolerances
) -> Iterator[Weighed]:
    if (status_was, now.status) == (_FINE, _FINE):
        used = after.get("units", {})
        shape = shape_of(_ANSWERS[kind]) if kind in _ANSWERS else NO_SHAPE
        yield from Comparison(now.line, now.id, kind, used, tolerances).changes(before, after, shape)
    elif _FINE in {status_was, now.status}:
        change = Change(
            line=now.line, id=now.id, kind=kind, pointer="", name="status", was=status_was, now=now.status,
            what="answered now" if now.status == _FINE else "no longer answered",
        )  # fmt: skip
        yield Weighed(change, 0, 0.0)


def _verdict(one: _Answered, answer: dict[str, Any]) -> str:
    return str(answer.get("verdict", "answered")) if one.status == _FINE else "refused"


def _row(one: Weighed, judged: str) -> tuple[Any, ...]:
    change = one.change
    return (
        WORST_FIRST.index(change.what), one.verdict, one.amount, change.line, change.kind == HEADS, change.name,
        change.value != change.value_was, change.limit != change.limit_was, judged, msgspec.json.encode(change),
    )  # fmt: skip


def _count(kept: sqlite3.Connection, counted: Counted, head: int) -> None:
    turned = kept.execute("SELECT was, now, COUNT(*) FROM jobs WHERE head = ? GROUP BY was, now", (head,))
    turns = [Turn(*row) for row in turned]
    # what has turned worse comes first, and of that what most have
    counted.turns = sorted(turns, key=lambda one: (not has_worsened(one.was, one.now), -one.jobs))
    counted.otherwise = sum(one.jobs for one in turns)
    _count_worse_within(kept, counted, head)
    reasons = kept.execute(
        """SELECT name, COUNT(*), SUM(limited), SUM(figure AND NOT limited)
        FROM (SELECT changes.line, name, MAX(limited) AS limited, MAX(figure) AS figure
              FROM changes JOIN jobs ON jobs.line = changes.line
              WHERE changes.head = ? AND sort < ? GROUP BY changes.line, name)
        GROUP BY name ORDER BY COUNT(*) DESC, name""",
        (head, WORST_FIRST.index("would be shimmed otherwise today")),
    )
    counted.reasons = [Reason(*row) for row in reasons]


def _count_worse_within(kept: sqlite3.Connection, counted: Counted, head: int) -> None:
    """The jobs that are judged as before although checks of theirs turned worse."""
    worse = "head = ? AND sort IN (?, ?) AND line NOT IN (SELECT line FROM jobs)"
    asked = head, WORST_FIRST.index("damage turned worse"), WORST_FIRST.index("setting turned worse")
    (counted.worse_within,) = kept.execute(
        f"SELECT COUNT(DISTINCT line) FROM changes WHERE {worse}",  # noqa: S608 - our own words
        asked,
    ).fetchone()
    named = kept.execute(
        f"""SELECT line, judged FROM changes WHERE {worse}
        GROUP BY line ORDER BY MIN(sort), MAX(verdict) DESC, MAX(amount) DESC, line LIMIT ?""",  # noqa: S608
        (*asked, _MOST_NAMED),
    ).fetchall()
    for line, verdict in named:
        rows = kept.execute(f"SELECT text FROM changes WHERE {worse} AND line = ? {_WORST}", (*asked, line))  # noqa: S608
        checks = [msgspec.json.decode(text, type=Change) for (text,) in rows]
        counted.worst_within.append(Worse(line, checks[0].id, verdict, checks))


def _write_down(kept: sqlite3.Connection, changes: Path) -> None:
    try:
        with changes.open("wb") as file:
            for (text,) in kept.execute(f"SELECT text FROM changes {_WORST}"):  # noqa: S608 - our own words
                file.write(text + b"\n")
    except OSError as error:
        raise Unusable(f"{changes} can't be written: {(error.strerror or str(error)).lower()}.") from None


@contextmanager
def _database() -> Iterator[sqlite3.Connection]:
    """A database on the disk that goes when it is closed."""
    with closing(sqlite3.connect("", isolation_level=None)) as kept:
        kept.execute("PRAGMA journal_mode = OFF")
        kept.executescript(_TABLES)
        kept.execute("CREATE INDEX by_line ON jobs (line)")
        kept.execute("BEGIN")
        yield kept
