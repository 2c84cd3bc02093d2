"""The processes of the service: told to stop, killed, left alone by their command."""

from __future__ import annotations

import os
import signal
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest
from tests.api.batches import line
from tests.live import Service, alive, children, everything, get, gone, post, service

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


def is_cut_off(connection: socket.socket) -> bool:
    """Whether a connection ends without an answer."""
    try:
        return connection.recv(100) == b""
    except ConnectionResetError:
        return True


def refuses(shop: Service) -> bool:
    """Whether nobody listens any longer."""
    try:
        shop.connect().close()
    except ConnectionRefusedError:
        return True
    return False


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    # what the command says counts before the environment, for the server that it starts too
    with service(tmp_path_factory.mktemp("shop"), "--workers", "2", WORKERS="1", GRACE_SECONDS="60") as shop:
        yield shop


def test_a_process_that_works_out_jobs_is_killed_and_nothing_is_lost(shop: Service) -> None:
    server = shop.server
    with half_sent(shop) as connection:
        for worker in (workers := children(server)):
            os.kill(worker, signal.SIGKILL)
        connection.sendall(JOB[HALF:])
        assert connection.recv(100).startswith(b"HTTP/1.1 200 ")
    assert len(workers) == 2
    assert shop.server == server
    assert f"a worker ended by itself ({-int(signal.SIGKILL)}); another takes its place" in shop.errors


def test_a_server_that_is_killed_is_replaced(shop: Service) -> None:
    killed = shop.processes
    with half_sent(shop) as connection:
        os.kill(shop.server, signal.SIGKILL)
        assert is_cut_off(connection)
    told = f"the server ended by itself (signal {int(signal.SIGKILL)}); another takes its place"
    shop.until(lambda: told in shop.errors)
    shop.until(lambda: not any(map(alive, killed)))
    with half_sent(shop) as connection:
        connection.sendall(JOB[HALF:])
        assert connection.recv(100).startswith(b"HTTP/1.1 200 ")


def test_a_stop_loses_nothing_that_is_under_way(shop: Service) -> None:
    with half_sent(shop) as sending, shop.connect() as resting:
        resting.sendall(get())
        answers = resting.recv(1000)
        server = shop.server
        os.kill(server, signal.SIGSTOP)
        queued = shop.connect()
        queued.sendall(get(close=True))
        shop.process.send_signal(signal.SIGTERM)
        # who asks once more on the same connection just then is answered, and whoever was in the queue
        resting.sendall(get())
        os.kill(server, signal.SIGCONT)
        with queued:
            assert everything(queued).startswith(b"HTTP/1.1 200 ")
        assert (answers + everything(resting)).count(b"HTTP/1.1 200 ") == 2
        shop.until(lambda: refuses(shop))
        sending.sendall(JOB[HALF:])
        answer = everything(sending)
        assert answer.startswith(b"HTTP/1.1 200 ")
        assert b"connection: close" in answer
    assert shop.process.wait(60) == 0


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


def test_every_process_ends_when_the_command_is_killed(tmp_path: Path) -> None:
    with service(tmp_path, GRACE_SECONDS="60") as shop, half_sent(shop) as connection:
        processes = shop.processes
        shop.process.kill()
        shop.process.wait()
        shop.until(lambda: refuses(shop))
        connection.sendall(JOB[HALF:])
        assert everything(connection).startswith(b"HTTP/1.1 200 ")
        shop.until(lambda: not any(map(alive, processes)))


def test_a_service_that_cannot_start_says_so_once(tmp_path: Path) -> None:
    # a package that breaks while it is loaded
    (tmp_path / "litestar.py").write_text("raise SystemExit(7)")
    shop = Service(tmp_path, HOST="127.0.0.1")
    shop.environment["PYTHONPATH"] = os.pathsep.join([str(tmp_path), os.environ.get("PYTHONPATH", "")])
    with pytest.raises(AssertionError, match=r"the server could not start \(status 7\)"):
        shop.start()
    assert shop.process.wait(60) == 1
    gone(shop)
