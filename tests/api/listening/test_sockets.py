"""What a person types after `headbench serve`, right and wrong."""

from __future__ import annotations

import errno
import os
import resource
import socket
import subprocess
import sys
from pathlib import Path

import pytest
from tests.live import service

from headbench.api.listening import sockets
from headbench.cli import main

NEVER = "nobody-has-this-name.invalid"  # RFC 6761, 6.4


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--host", NEVER], f'"{NEVER}" is no address of this machine; write 127.0.0.1, 0.0.0.0 or localhost'),
        (["--host", "192.0.2.1"], '"192.0.2.1" is no address of this machine; write 127.0.0.1, 0.0.0.0 or localhost'),
        (["--host", "127.0.0.1.1"], '"127.0.0.1.1" is no address of this machine; write 127.0.0.1, 0.0.0.0 or '),
        (["--host", "my shop"], '--host: "my shop" is no name or address of a machine; write 127.0.0.1, 0.0.0.0, '),
        (["--port", "65536"], '--port: "65536" is no whole number from 0 to 65,535'),
        (["--port", "-1"], '--port: "-1" is no whole number from 0 to 65,535'),
        (["--port", "http"], '--port: "http" is no whole number from 0 to 65,535'),
        (["--workers", "0"], '--workers: "0" is no whole number from 1 to 64'),
        (["--workers", "1.5"], '--workers: "1.5" is no whole number from 1 to 64'),
    ],
)
def test_what_is_mistyped_is_told_in_a_sentence(
    options: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["serve", "--port", "0", *options]) == 2
    said = capsys.readouterr()
    assert said.err.startswith(told)
    assert said.err.count("\n") == 1
    assert said.out == ""


def test_a_name_is_listened_at_and_the_port_that_was_free_is_told(tmp_path: Path) -> None:
    with service(tmp_path, "--host", "localhost") as shop:
        assert shop.status() == 200
        assert shop.errors.count("\n") == 1


def test_an_option_wins_over_the_environment(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("HEADBENCH_PORT", "0")
    monkeypatch.setenv("HEADBENCH_WORKERS", "0")
    assert main(["serve", "--workers", "65"]) == 2
    assert capsys.readouterr().err.startswith('--workers: "65" is ')
    assert main(["serve"]) == 2
    assert capsys.readouterr().err.startswith('HEADBENCH_WORKERS: "0" is ')


def test_all_addresses_of_a_name_get_the_same_port(monkeypatch: pytest.MonkeyPatch) -> None:
    both = [
        (socket.AF_INET6, socket.SOCK_STREAM, 6, "", ("::1", 0, 0, 0)),
        (socket.AF_INET, socket.SOCK_STREAM, 6, "", ("127.0.0.1", 0)),
    ]
    monkeypatch.setattr(socket, "getaddrinfo", lambda *_, **__: both)
    bound = sockets.bound("localhost", 0)
    told = [sockets.address_of(one) for one in bound]
    for one in bound:
        one.close()
    port = told[-1].rpartition(":")[2]
    assert told in ([f"http://[::1]:{port}", f"http://127.0.0.1:{port}"], [f"http://127.0.0.1:{port}"])


@pytest.mark.parametrize(
    ("descriptors", "most"), [(100, 25), (1024, 704), (20_000, 16_000), (resource.RLIM_INFINITY, 16_000)]
)
def test_there_are_fewer_connections_than_descriptors(
    monkeypatch: pytest.MonkeyPatch, descriptors: int, most: int
) -> None:
    monkeypatch.setattr(resource, "getrlimit", lambda _: (descriptors, descriptors))
    assert sockets.most_connections() == most


def test_no_connection_is_written_the_log_where_standard_streams_are_closed() -> None:
    program = """
import os
from headbench.api.listening.sockets import open_standard_streams
for one in range(3):
    os.close(one)
open_standard_streams()
os._exit(0 if os.open("/", os.O_RDONLY) > 2 else 1)
"""
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0  # noqa: S603 - our own


def test_a_port_of_the_system_is_said_so(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    def forbidden(*_: object) -> None:
        raise OSError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(socket.socket, "bind", forbidden)
    assert main(["serve", "--port", "80"]) == 2
    assert capsys.readouterr().err == "port 80 is for the system's own; choose one from 1024\n"
