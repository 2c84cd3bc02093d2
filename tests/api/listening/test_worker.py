"""The processes of the service: told to stop, killed, left alone by their command."""

from __future__ import annotations

import os
import signal
import socket
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest
from tests.api.batches import line
from tests.live import Service, everything, get, gone, post, service

from headbench.api.masses.valve_mass import RESOURCE

JOB = RESOURCE.example_file.read_bytes()
HALF = len(JOB) // 2


def half_sent(shop: Service) -> socket.socket:
    """A connection with a request that is under way."""
    connection = shop.connect()
    connection.sendall(post(RESOURCE.path, len(JOB), Expect="100-continue"))
    # somebody reads its body
    assert connection.recv(100).startswith(b"HTTP/1.1 100 ")
    connection.sendall(JOB[:HALF])
    return connection


def alive(process: int) -> bool:
    """Whether a process runs."""
    status = Path(f"/proc/{process}/stat")
    return status.exists() and status.read_text().rpartition(")")[2].split()[0] != "Z"


def holding(shop: Service, connection: socket.socket) -> int:
    """Which worker has the other end of a connection."""
    port = connection.getsockname()[1]
    table = [one.split() for one in Path("/proc/net/tcp").read_text().splitlines()[1:]]
    (inode,) = (one[9] for one in table if one[1].endswith(f":{shop.port:04X}") and one[2].endswith(f":{port:04X}"))
    for worker in shop.workers:
        for open_file in Path(f"/proc/{worker}/fd").iterdir():
            if str(open_file.readlink()) == f"socket:[{inode}]":
                return worker
    raise AssertionError


def refuses(shop: Service) -> bool:
    """Whether nobody listens any longer."""
    try:
        shop.connect().close()
    except ConnectionRefusedError:
        return True
    return False


@pytest.fixture(scope="module")
def two(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    with service(tmp_path_factory.mktemp("two"), "--workers", "2", GRACE_SECONDS="60") as shop:
        yield shop


def test_a_worker_that_is_killed_loses_its_own_alone_and_another_takes_its_place(two: Service) -> None:
    with ExitStack() as opened:
        connections = [opened.enter_context(half_sent(two)) for _ in range(8)]
        by_worker = [holding(two, one) for one in connections]
        killed = by_worker[0]
        os.kill(killed, signal.SIGKILL)
        for one, worker in zip(connections, by_worker, strict=True):
            if worker != killed:
                one.sendall(JOB[HALF:])
            answer = one.recv(100)
            assert answer.startswith(b"HTTP/1.1 200 ") == (worker != killed)
    two.until(lambda: len(two.workers) == 2 and killed not in two.workers)
    told = f"a worker ended by itself (signal {int(signal.SIGKILL)}); another takes its place"
    two.until(lambda: told in two.errors)


def test_a_stop_loses_nothing_that_is_under_way(two: Service) -> None:
    with half_sent(two) as sending, two.connect() as resting:
        resting.sendall(get())
        answers = resting.recv(1000)
        workers = two.workers
        for worker in workers:
            os.kill(worker, signal.SIGSTOP)
        queued = two.connect()
        queued.sendall(get(close=True))
        two.process.send_signal(signal.SIGTERM)
        # who asks once more on the same connection just then is answered, and whoever was in the queue
        resting.sendall(get())
        for worker in workers:
            os.kill(worker, signal.SIGCONT)
        with queued:
            assert everything(queued).startswith(b"HTTP/1.1 200 ")
        assert (answers + everything(resting)).count(b"HTTP/1.1 200 ") == 2
        two.until(lambda: refuses(two))
        sending.sendall(JOB[HALF:])
        answer = everything(sending)
        assert answer.startswith(b"HTTP/1.1 200 ")
        assert b"connection: close" in answer
    assert two.process.wait(60) == 0


def test_what_a_stop_leaves_no_time_for_is_told(tmp_path: Path) -> None:
    with service(tmp_path, GRACE_SECONDS="0.2", DRAIN_SECONDS="0.5") as shop, shop.connect() as batch:
        batch.sendall(post("/v1/batch", 1_000_000, "application/x-ndjson") + line() + b"\n")
        assert batch.recv(100).startswith(b"HTTP/1.1 200 ")
        shop.process.send_signal(signal.SIGTERM)
        # it says that it stops, and still takes requests
        shop.until(lambda: shop.status("/health/ready") == 503)
        assert shop.status("/version") == 200
        assert shop.process.wait(60) == 1
        assert "1 request cut off: not answered within the grace period of 0.2 s" in shop.errors
        assert [one["status"] for one in shop.log if one["route"] == "/v1/batch"] == [503]
        assert "Traceback" not in shop.errors


def test_workers_end_when_their_command_is_killed(tmp_path: Path) -> None:
    with service(tmp_path, GRACE_SECONDS="60") as shop, half_sent(shop) as connection:
        workers = shop.workers
        shop.process.kill()
        shop.process.wait()
        shop.until(lambda: refuses(shop))
        connection.sendall(JOB[HALF:])
        assert everything(connection).startswith(b"HTTP/1.1 200 ")
        shop.until(lambda: not any(map(alive, workers)))


def test_a_service_that_cannot_start_says_so_once(tmp_path: Path) -> None:
    # a package that breaks while it is loaded
    (tmp_path / "litestar.py").write_text("raise SystemExit(7)")
    shop = Service(tmp_path, HOST="127.0.0.1")
    shop.environment["PYTHONPATH"] = os.pathsep.join([str(tmp_path), os.environ.get("PYTHONPATH", "")])
    with pytest.raises(AssertionError, match=r"a worker could not start \(status 7\)"):
        shop.start()
    assert shop.process.wait(60) == 1
    gone(shop)
