"""The command `recompute`: a file of jobs in, a file of answers out, and what has changed since an earlier one."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from headbench import __version__
from headbench.bulk.recompute import Answerer, in_process, recompute
from headbench.bulk.results import Results, Unusable, begun_with
from headbench.bulk.server import GaveUp, Server, tell_retries
from headbench.bulk.showing import progress, tell, tell_tally

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


def run(asked: Asked) -> int:
    """Do it; the exit status says whether all lines were answered."""
    tell_retries(tell)
    try:
        with _answered_by(asked.server) as (answerer, version):
            begun = begun_with(asked.jobs, version)
            with Results(asked.out, begun) as results:
                if results.last:
                    tell(f"{asked.out} has the answers up to line {results.last:,}; going on from there.")
                with progress(begun.lines, results.last) as done:
                    recompute(asked.jobs, results, answerer, done)
            if begun_with(asked.jobs, version) != begun:
                tell(f"{asked.jobs} changed while it was being answered; remove {asked.out} and begin anew.")
                return NOT_FINISHED
    except Unusable as error:
        tell(str(error))
        return NOT_FINISHED
    except GaveUp as error:
        tell(f"{error} Run the same command again to go on.")
        return NOT_FINISHED
    except KeyboardInterrupt:
        tell("Stopped; run the same command again to go on.")
        return STOPPED
    tell_tally(results.tally, asked.out)
    return SOME_REFUSED if results.tally.refused else ALL_ANSWERED


@contextmanager
def _answered_by(address: str | None) -> Iterator[tuple[Answerer, str]]:
    """Who answers, and its release."""
    if address is None:
        yield in_process(), __version__
    else:
        with Server(address) as server:
            yield server.answerer(), server.version()
