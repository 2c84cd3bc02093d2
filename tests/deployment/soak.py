"""Soak: the service kept busy for an hour by all kinds of callers, and whether its memory and descriptors stay.

Callers post every calculation's example as JSON, page and PDF, batches, jobs that are refused and bytes that are no
request; some leave before they are answered. All processes of the service are looked at every few seconds. Of what is
measured after it has warmed up a straight line is drawn; it grows where even the least that the line may rise by
(a one-sided 99 %) is more than a service that runs for weeks can bear. Ends with 1 if it grows or an answer is not as
it should be.
"""

from __future__ import annotations

import argparse
import asyncio
import itertools
import json
import math
import sys
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Final

import httpx
import numpy as np
from scipy import stats
from tests.deployment.processes import Look, look
from tests.deployment.replicas import Replica

from headbench.api.app import RESOURCES

CALLERS: Final = 6
SECONDS_BETWEEN: Final = 5.0
WARM_UP: Final = 0.5
"""Part of the time before which nothing counts: caches fill, arenas spread."""
MOST_MEGABYTES_AN_HOUR: Final = 2.0
MOST_DESCRIPTORS_AN_HOUR: Final = 2.0
_CONFIDENCE: Final = 0.99
_FORMS: Final = ("application/json", "application/json", "text/html", "application/pdf", "text/csv")


def messages() -> Iterator[tuple[str, bytes, dict[str, str], set[int]]]:
    """What is posted, over and over: path, body, headers, and the statuses that may be answered."""
    json_body = {"Content-Type": "application/json"}
    bodies = [(resource.kind, resource.path, resource.example_file.read_bytes()) for resource in RESOURCES]
    lines = "".join(
        json.dumps({"kind": kind, "id": kind, "request": json.loads(body)}) + "\n" for kind, _, body in bodies
    ).encode()
    for turn in itertools.count():
        _, path, body = bodies[turn % len(bodies)]
        accept = _FORMS[turn // len(bodies) % len(_FORMS)]
        yield path, body, json_body | {"Accept": accept}, {200}
        # a number nobody sent before, so that nothing is answered from memory
        yield path, b'{"positions": [{"id": %d}], "unit": %d}' % (turn, turn), json_body, {400}
        whole = body.rstrip()
        yield path, whole[: turn % len(whole)], json_body, {400}
        if turn % 5 == 0:
            yield "/v1/batch", lines, {"Content-Type": "application/x-ndjson"}, {200}
            yield f"/nowhere/{turn}", b"", {}, {404}


async def call(
    client: httpx.AsyncClient, sent: Iterator[tuple[str, bytes, dict[str, str], set[int]]], told: Counter[str]
) -> None:
    """Post one after the other; turned away for being one too many is an answer, too."""
    for path, body, headers, wanted in sent:
        try:
            answer = await client.post(path, content=body, headers=headers)
        except httpx.HTTPError as error:
            told[f"{path}: {type(error).__name__}"] += 1
            continue
        if answer.status_code == httpx.codes.SERVICE_UNAVAILABLE:
            told["turned away"] += 1
        elif answer.status_code in wanted:
            told["answered"] += 1
        else:
            told[f"{path}: {answer.status_code}"] += 1


async def leave(port: int, told: Counter[str]) -> None:
    """Ask for much, and be gone; be there, and ask for nothing."""
    body = RESOURCES[0].example_file.read_bytes()
    head = b"POST %b HTTP/1.1\r\nHost: here\r\nContent-Type: application/json\r\nContent-Length: %d\r\n\r\n"
    message = head % (RESOURCES[0].path.encode(), len(body)) + body
    for turn in itertools.count():
        _, writer = await asyncio.open_connection("127.0.0.1", port)
        writer.write(message[: turn * 97 % (len(message) + 1)])
        await asyncio.sleep(0.05)
        writer.transport.abort()
        told["left"] += 1


async def soak(replica: Replica, minutes: float) -> tuple[list[Look], Counter[str]]:
    """Keep it busy for so long."""
    told: Counter[str] = Counter()
    looks: list[Look] = []
    sent = messages()
    start = time.monotonic()
    async with httpx.AsyncClient(base_url=f"http://127.0.0.1:{replica.port}", timeout=60.0) as client:
        callers = [asyncio.create_task(call(client, sent, told)) for _ in range(CALLERS)]
        callers.append(asyncio.create_task(leave(replica.port, told)))
        minute = 0
        while (passed := time.monotonic() - start) < 60.0 * minutes:
            await asyncio.sleep(SECONDS_BETWEEN)
            if gone := [one for one in callers if one.done()]:
                gone[0].result()
            looks.append(look(replica.process.pid, start))
            if passed >= 60.0 * minute:
                minute += 1
                last = looks[-1]
                print(
                    f"{passed / 60.0:6.1f} min  {last.megabytes:7.1f} MB  {last.descriptors:4d} descriptors  "
                    f"{last.processes} processes  {told['answered']} answered",
                    flush=True,
                )
        for caller in callers:
            caller.cancel()
        await asyncio.gather(*callers, return_exceptions=True)
    return looks, told


def rise(what: str, seconds: Sequence[float], values: Sequence[float], most: float) -> bool:
    """Print how fast something rises; whether that is more than it may."""
    line = stats.linregress(np.array(seconds) / 3600.0, values)
    least = line.slope - stats.t.ppf(_CONFIDENCE, len(seconds) - 2) * line.stderr
    grows = bool(least > most)
    print(
        f"{what}: {values[0]:.1f} to {values[-1]:.1f}, {min(values):.1f} at least and {max(values):.1f} at most; "
        f"{line.slope:+.2f} an hour (at least {least:+.2f}; may be {most:g}): {'GROWS' if grows else 'stays'}"
    )
    return grows


def main() -> int:
    """Soak, and tell."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--minutes", type=float, default=60.0, help="how long (default: 60)")
    minutes: float = parser.parse_args().minutes
    if not 1.0 <= minutes < math.inf:
        parser.error("a soak takes a minute at least")
    replica = Replica()
    replica.start()
    try:
        looks, told = asyncio.run(soak(replica, minutes))
    finally:
        status = replica.stop()
    counted = [one for one in looks if one.seconds >= 60.0 * WARM_UP * minutes]
    seconds = [one.seconds for one in counted]
    print(f"{minutes:g} minutes, of which the last {1.0 - WARM_UP:.0%} count; the service ended with {status}")
    print(f"callers: {dict(told)}")
    grows = [
        rise("megabytes", seconds, [one.megabytes for one in counted], MOST_MEGABYTES_AN_HOUR),
        rise("descriptors", seconds, [float(one.descriptors) for one in counted], MOST_DESCRIPTORS_AN_HOUR),
    ]
    wrong = set(told) - {"answered", "turned away", "left"}
    return 1 if any(grows) or wrong or status else 0


if __name__ == "__main__":
    sys.exit(main())
