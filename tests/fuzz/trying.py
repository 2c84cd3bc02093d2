"""Trying: one case after another, each held to the schema and to the laws; what broke is written down."""

from __future__ import annotations

import base64
import hashlib
import json
import signal
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from typing import Any, Final, NamedTuple

from tests.fuzz.asking import Asked, Asker, Said, asker
from tests.fuzz.laws import OF_ANSWERS, OF_ANY, Case
from tests.fuzz.mutating import large, spoilt, structure
from tests.fuzz.published import NotReadableError, faults, read, takes

KINDS: Final = {"structure": structure, "bytes": spoilt, "large": large}

MOST_BODY_BYTES: Final = 2_000_000

TOO_LONG: Final = 60
"""After how many seconds a case is given up, and counted as broken [s]."""

SLOWEST: Final = 5


@dataclass(frozen=True, slots=True)
class Failure:
    """What broke: the law, what was asked, and why; a file of it can be tried again."""

    law: str
    seed: int
    case: int
    path: str
    body: bytes
    why: str

    def written(self, folder: Path) -> Path:
        """A file of it."""
        folder.mkdir(parents=True, exist_ok=True)
        told = {"law": self.law, "seed": self.seed, "case": self.case, "path": self.path, "why": self.why}
        try:
            told["body"] = self.body.decode()
        except UnicodeDecodeError:
            told["base64"] = base64.b64encode(self.body).decode()
        file = folder / f"{self.law}-{self.seed}-{self.case}.json"
        file.write_text(json.dumps(told, indent=1) + "\n")
        return file

    @classmethod
    def of(cls, file: Path) -> Failure:
        """What a file says."""
        told = json.loads(file.read_text())
        body = base64.b64decode(told.pop("base64")) if "base64" in told else told.pop("body").encode()
        return cls(**told, body=body)

    @property
    def like(self) -> str:
        """The same for failures that have one cause, as far as can be told."""
        shape = "".join(one for one in self.why[:160] if not one.isdigit())
        return hashlib.sha256(f"{self.law} {self.path} {shape}".encode()).hexdigest()


class Share(NamedTuple):
    """What one process tries."""

    seed: int
    first: int
    step: int
    until: float
    server: str | None


@dataclass(slots=True)
class Tally:
    """What was tried: cases by kind and status, laws by how often they were held to, and what broke."""

    cases: Counter[tuple[str, int]] = field(default_factory=Counter)
    laws: Counter[str] = field(default_factory=Counter)
    failures: list[Failure] = field(default_factory=list)
    slowest: list[tuple[float, int, str]] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        """Another's beside it."""
        self.cases += other.cases
        self.laws += other.laws
        self.failures += other.failures
        self.slowest = sorted([*self.slowest, *other.slowest], reverse=True)[:SLOWEST]


def try_share(share: Share) -> Tally:
    """Every so-manieth case until the time is over."""
    tally = Tally()
    case = share.first
    with asker(share.server) as asked:
        while time.time() < share.until:
            try_case(asked, share.seed, case, tally)
            case += share.step
    return tally


def try_case(by: Asker, seed: int, case: int, tally: Tally) -> None:
    """The case of this number: the same for a seed whatever was tried before."""
    rng = Random(f"{seed}/{case}")  # noqa: S311 - not for secrets
    kind = rng.choice(("structure", "structure", "bytes", "large"))
    path, body = KINDS[kind](rng)
    _try(by, Failure("", seed, case, path, body, ""), kind, tally)


def try_again(by: Asker, failure: Failure, tally: Tally) -> None:
    """What broke once, held to the same laws in the same way."""
    _try(by, failure, "again", tally)


def _try(by: Asker, tried: Failure, kind: str, tally: Tally) -> None:
    rng = Random(f"{tried.seed}/{tried.case}/laws")  # noqa: S311 - likewise

    def broke(law: str, whys: Iterator[str] | list[str]) -> None:
        tally.laws[law] += 1
        found = [Failure(law, tried.seed, tried.case, tried.path, tried.body, why) for why in whys]
        tally.failures += found[:3]

    law = "answered"
    try:
        with _in_time():
            said = by.ask(Asked(tried.path, tried.body))
            tally.cases[kind, said.status] += 1
            tally.add(Tally(slowest=[(said.seconds, tried.case, tried.path)]))
            broke("published", faults(tried.path, said))
            broke("taken_as_published", taken_as_published(tried.path, tried.body, said))
            if said.status not in {200, 400, 422}:
                return
            try:
                job = read(tried.body)
            except NotReadableError:
                return
            case = Case(by, rng, tried.path, job, tried.body, said)
            laws = OF_ANSWERS if said.status == 200 else OF_ANY
            for one in rng.sample(laws, 2 if said.status == 200 else 1):
                law = one.__name__
                broke(law, one(case))
    except Exception as error:  # noqa: BLE001 - whatever it is, it is what is looked for
        broke(law, [f"{type(error).__name__}: {error}"])


def taken_as_published(path: str, body: bytes, said: Said) -> Iterator[str]:
    """What the schema takes is answered or contradicts itself; what it does not take is refused with the right code."""
    if said.status >= 500:
        return
    try:
        value = read(body)
    except NotReadableError as fault:
        expected = {fault.args[0]}
    else:
        expected = set() if takes(path, value) else {"invalid-request"}
    if len(body) > MOST_BODY_BYTES:
        expected = {"body-too-large"}
    code = json.loads(said.body)["type"].rsplit(":")[-1] if said.status != 200 else ""
    # what is wrong twice over may be told of either
    if "duplicate-key" in expected and code in {"malformed-json", "invalid-request"}:
        return
    if expected and code not in expected:
        yield f"{said.status} {code or 'answered'}, {' or '.join(expected)} was to come: {said.body[:300]!r}"
    if not expected and said.status not in {200, 422}:
        yield f"{said.status} {code}, though the schema takes it: {said.body[:300]!r}"


@contextmanager
def _in_time() -> Iterator[None]:
    """Give up what takes too long, so that it is told and not waited for."""

    def give_up(*_: Any) -> None:
        raise TimeoutError(f"not answered within {TOO_LONG} s")

    before = signal.signal(signal.SIGALRM, give_up)
    signal.alarm(TOO_LONG)
    try:
        yield
    finally:
        signal.alarm(0)
        signal.signal(signal.SIGALRM, before)
