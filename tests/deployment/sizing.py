"""Sizing: what a job costs the service as it ships, all its processes together, and what they hold.

Processor time as the kernel counts it, so that a machine that is busy otherwise spoils it little; one request after the
other over one connection, so that nothing waits. Prints the table of docker/sizing.md.
"""

from __future__ import annotations

import http.client
import json
import sys
from typing import Final

from tests.benchmarks.jobs import whole_head
from tests.deployment.processes import family, look, megabytes, processor_seconds
from tests.deployment.replicas import Replica

from headbench.api.app import RESOURCES

LEAST_SECONDS: Final = 1.0
"""Processor time that a figure rests on; the kernel counts in hundredths."""
WARM_UP: Final = 5
_BATCH: Final = 200


def jobs() -> dict[str, tuple[str, bytes, dict[str, str], int]]:
    """What is posted: path, body, headers, and how many jobs that is."""
    head = json.dumps(whole_head(16)).encode()
    line = json.dumps({"kind": "head-assembly", "request": whole_head(16)}).encode() + b"\n"
    as_json = {"Content-Type": "application/json"}
    found = {
        "head of 16, every reading taken": ("/v1/head-assembly", head, as_json, 1),
        "the same, as a line of a batch": (
            "/v1/batch", line * _BATCH, {"Content-Type": "application/x-ndjson"}, _BATCH,
        ),
        "the same, as a page": ("/v1/head-assembly", head, as_json | {"Accept": "text/html"}, 1),
        "the same, as a PDF": ("/v1/head-assembly", head, as_json | {"Accept": "application/pdf"}, 1),
    }  # fmt: skip
    for resource in RESOURCES:
        found[f"example of {resource.kind}"] = (resource.path, resource.example_file.read_bytes(), as_json, 1)
    return found


def main() -> int:
    """Measure and print."""
    replica = Replica()
    replica.start()
    pid = replica.process.pid
    try:
        fresh = look(pid)
        connection = http.client.HTTPConnection("127.0.0.1", replica.port, timeout=120.0)
        print("| job | processor time | jobs a second on one core |\n|---|---|---|")
        for name, (path, body, headers, count) in jobs().items():

            def ask(path: str = path, body: bytes = body, headers: dict[str, str] = headers) -> None:
                connection.request("POST", path, body, headers)
                answer = connection.getresponse()
                answer.read()
                if answer.status != http.HTTPStatus.OK:
                    raise RuntimeError(f"{path} answered {answer.status}")

            for _ in range(WARM_UP if count == 1 else 1):
                ask()
            before, asked = processor_seconds(pid), 0
            while (used := processor_seconds(pid) - before) < LEAST_SECONDS:
                ask()
                asked += count
            print(f"| {name} | {1000.0 * used / asked:.2f} ms | {asked / used:.0f} |", flush=True)
        after = look(pid)
        print(
            f"\n{fresh.megabytes:.0f} MB in {fresh.processes} processes when ready, {after.megabytes:.0f} MB after this"
        )
        print("each: " + ", ".join(f"{megabytes(one):.0f} MB" for one in family(pid)))
    finally:
        status = replica.stop()
    return status


if __name__ == "__main__":
    sys.exit(main())
