"""Audit: whether an advisory is known of anything that the locks pin. Run as `python -m tests.audit LOCK...`.

It asks an advisory database over the network (OSV, or another that speaks its protocol: `--database URL`), which is why
it is a command of its own. Where the database cannot be reached nobody has looked, and that is said as loudly as an
advisory would be: status 0 is "none known", 1 "advisories", 3 "nobody looked".
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from collections.abc import Sequence
from typing import Any, Final

NONE_KNOWN: Final = 0
ADVISORIES: Final = 1
NOBODY_LOOKED: Final = 3

DATABASE: Final = "https://api.osv.dev/v1/query"


def audit(locks: Sequence[str], database: str) -> int:
    """Ask of everything that some locks pin, and print what is known."""
    command = [sys.executable, "-m", "pip_audit", "--disable-pip", "--require-hashes", "--format=json"]
    command += ["--progress-spinner=off", "--timeout=10", "--vulnerability-service=osv", f"--osv-url={database}"]
    command += [f"--requirement={lock}" for lock in locks]
    run = subprocess.run(command, capture_output=True, text=True, check=False)  # noqa: S603 - our own
    try:
        asked: list[dict[str, Any]] = json.loads(run.stdout)["dependencies"]
    except (ValueError, KeyError):
        why = (run.stderr.strip().splitlines() or [f"pip-audit ended with status {run.returncode}"])[-1]
        return _not_looked(f"the advisory database at {database} gave no answer: {why}")
    if left := [one["name"] for one in asked if "skip_reason" in one]:
        return _not_looked(f"nothing could be asked of {', '.join(left)}")
    if not asked:
        return _not_looked(f"{', '.join(locks)} pin nothing")
    found = [(one["name"], one["version"], advisory) for one in asked for advisory in one["vulns"]]
    for name, version, advisory in found:
        mended = ", ".join(advisory["fix_versions"]) or "none yet"
        print(f"{name} {version}: {advisory['id']}, mended in {mended}. {advisory['description']}")
    print(f"{len(found)} advisories known of {len(asked)} pinned packages, by {database}")
    return ADVISORIES if found else NONE_KNOWN


def _not_looked(why: str) -> int:
    print(f"NOBODY LOOKED FOR ADVISORIES: {why}\nRun it where the database can be reached.", file=sys.stderr)
    return NOBODY_LOOKED


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command."""
    parser = argparse.ArgumentParser(prog="python -m tests.audit", description=__doc__.splitlines()[0])
    parser.add_argument("locks", nargs="+", help="files of pinned packages with hashes")
    parser.add_argument("--database", default=DATABASE, help=f"address that advisories are asked of ({DATABASE})")
    chosen = parser.parse_args(arguments)
    return audit(chosen.locks, chosen.database)


if __name__ == "__main__":
    sys.exit(main())
