"""The command `recompute`: a file of jobs in, a file of answers out, and what has changed since an earlier one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from headbench import __version__
from headbench.bulk.against import compare
from headbench.bulk.quantities import Tolerances
from headbench.bulk.recompute import Answerer, in_process, recompute
from headbench.bulk.results import Results, Unusable, begun_with
from headbench.bulk.server import GaveUp, Server, tell_retries
from headbench.bulk.showing import MOST_SHOWN, progress, show_found, tell, tell_tally

ALL_ANSWERED: Final = 0
SOME_REFUSED: Final = 1
NOT_FINISHED: Final = 2
STOPPED: Final = 130


@dataclass(frozen=True, slots=True)
class Asked:
    """What the command was asked for."""

    jobs: Path
    out: Path
    server: str | None
    against: Path | None
    changes: Path | None
    tolerances: Mapping[str, float]


def run(asked: Asked) -> int:
    """Do it; the exit status says whether all lines were answered."""
    tell_retries(tell)
    try:
        _refuse_nonsense(asked)
        with _answered_by(asked.server) as (answerer, version):
            begun = begun_with(asked.jobs, version)
            with Results(asked.out, begun) as results:
                if results.last:
                    tell(f"{asked.out} has the answers up to line {results.last:,} of {begun.lines:,}; going on.")
                with progress(begun.lines, results.last) as done:
                    recompute(asked.jobs, results, answerer, done)
            if begun_with(asked.jobs, version) != begun:
                raise Unusable(f"{asked.jobs} changed while it was being answered; remove {asked.out}, begin anew.")  # noqa: TRY301 - told as all the others
            tell_tally(results.tally, asked.out)
            if asked.against is not None:
                _compare(asked, asked.against, answerer)
    except Unusable as error:
        tell(str(error))
        return NOT_FINISHED
    except GaveUp as error:
        tell(f"{error} Run the same command again to go on.")
        return NOT_FINISHED
    except KeyboardInterrupt:
        tell("Stopped; run the same command again to go on.")
        return STOPPED
    return SOME_REFUSED if results.tally.refused else ALL_ANSWERED


def _refuse_nonsense(asked: Asked) -> None:
    """See that the question makes sense, before anything is written; raises Unusable."""
    files = [one.resolve() for one in (asked.jobs, asked.out, asked.against, asked.changes) if one is not None]
    if len(set(files)) < len(files):
        raise Unusable("One file is named twice; jobs, answers, earlier answers and changes each have their own.")
    if asked.jobs.exists() and not asked.jobs.is_file():
        raise Unusable(f"{asked.jobs} is no file; it is read more than once, so write the jobs into one.")
    if asked.against is None and (asked.changes is not None or asked.tolerances):
        raise Unusable("--changes and --tolerance belong to a comparison; name the earlier answers with --against.")
    if asked.against is not None and not asked.against.is_file():
        raise Unusable(f"{asked.against} can't be read: no such file.")


def _compare(asked: Asked, earlier: Path, answerer: Answerer) -> None:
    def ask(line: int, job: bytes) -> bytes:
        return answerer.ask([(line, job)]).result()

    found = compare(asked.jobs, asked.out, earlier, Tolerances(asked.tolerances), asked.changes, MOST_SHOWN, ask)
    show_found(found, earlier, asked.changes)


@contextmanager
def _answered_by(address: str | None) -> Iterator[tuple[Answerer, str]]:
    """Who answers, and its release."""
    if address is None:
        yield in_process(), __version__
    else:
        with Server(address) as server:
            yield server.answerer(), server.version()
