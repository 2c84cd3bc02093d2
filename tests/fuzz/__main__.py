"""Fuzzing as a command: make fuzz."""

from __future__ import annotations

import argparse
import multiprocessing
import os
import secrets
import sys
import time
from pathlib import Path
from typing import Any

from tests.fuzz.asking import asker
from tests.fuzz.trying import Failure, Share, Tally, try_again, try_case, try_share

FOLDER = Path("fuzz-failures")

FILES_OF_A_CAUSE = 3


def main() -> int:
    """Try, count and tell; 1 where something broke."""
    options = _options()
    if options.replay or options.case is not None:
        return _again(options)
    seed = secrets.randbelow(2**31) if options.seed is None else options.seed
    print(f"seed {seed}; a case again: python -m tests.fuzz --seed {seed} --case N", flush=True)
    until = time.time() + options.minutes * 60
    shares = [Share(seed, first, options.processes, until, options.server) for first in range(options.processes)]
    tally = Tally()
    with multiprocessing.get_context("spawn").Pool(options.processes) as pool:
        for one in pool.imap_unordered(try_share, shares):
            tally.add(one)
    return told(tally)


def _options() -> Any:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument("--minutes", type=float, default=3.0, help="how long to try (3)")
    parser.add_argument("--seed", type=int, help="what cases are drawn from (drawn itself, and printed)")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1, help="how many try (one a core)")
    parser.add_argument("--server", help="the address of a service to try, not the one in this process")
    parser.add_argument("--case", type=int, help="try this case of the seed alone")
    parser.add_argument("--replay", type=Path, help="try what a file of a failure says")
    return parser.parse_args()


def _again(options: Any) -> int:
    tally = Tally()
    with asker(options.server) as asked:
        if options.replay:
            try_again(asked, Failure.of(options.replay), tally)
        else:
            try_case(asked, options.seed or 0, options.case, tally)
    for failure in tally.failures:
        print(f"{failure.law}: {failure.path}: {failure.why}")
    print(f"{len(tally.failures)} broken of {tally.laws.total()} held to; statuses {dict(tally.cases)}")
    return 1 if tally.failures else 0


def told(tally: Tally) -> int:
    """What was tried, and what broke with the file that tries it again."""
    print(f"\n{tally.cases.total()} cases")
    for (kind, status), count in sorted(tally.cases.items()):
        print(f"  {kind:20} {status}  {count}")
    print("held to")
    for law, count in sorted(tally.laws.items()):
        print(f"  {law:20}      {count}")
    print("the slowest")
    for seconds, case, path in tally.slowest:
        print(f"  {seconds:8.3f} s  case {case}, {path}")
    causes: dict[str, list[Failure]] = {}
    for failure in sorted(tally.failures, key=lambda one: len(one.body)):
        causes.setdefault(failure.like, []).append(failure)
    print(f"{len(tally.failures)} broken, {len(causes)} causes" if causes else "nothing broke")
    for alike in causes.values():
        print(f"\n{len(alike)} x {alike[0].law} at {alike[0].path}: {alike[0].why[:600]}")
        for failure in alike[:FILES_OF_A_CAUSE]:
            print(f"  python -m tests.fuzz --replay {failure.written(FOLDER)}")
    return 1 if causes else 0


if __name__ == "__main__":
    sys.exit(main())
