"""Two replicas of the service behind the balancer of docker/, started and stopped as whoever runs them would."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from tests.deployment.ports import free_port

SECONDS: Final = 60.0
"""How long to wait for what happens soon on a machine that is not busy."""
DRAIN_SECONDS: Final = 4.0
"""Longer than the balancer takes to notice: two looks, a second apart."""

_BALANCER: Final = Path(__file__).parents[2] / "docker" / "haproxy.cfg"


def wait_for(url: str, process: subprocess.Popen[bytes]) -> None:
    """Wait until an address answers with 200."""
    end = time.monotonic() + SECONDS
    while time.monotonic() < end and process.poll() is None:
        try:
            urllib.request.urlopen(url, timeout=1.0).close()  # noqa: S310 - our own
        except OSError:
            time.sleep(0.05)
        else:
            return
    raise RuntimeError(f"nothing answered at {url}")


@dataclass
class Replica:
    """One `headbench serve` and its port, which stays the same from start to start."""

    port: int = field(default_factory=free_port)
    _process: subprocess.Popen[bytes] | None = None

    @property
    def process(self) -> subprocess.Popen[bytes]:
        """The process that runs."""
        assert self._process is not None
        return self._process

    def start(self) -> None:
        """Start, and wait until it takes work."""
        said = {
            "HEADBENCH_PORT": str(self.port),
            "HEADBENCH_WORKERS": "1",
            "HEADBENCH_DRAIN_SECONDS": str(DRAIN_SECONDS),
        }
        self._process = subprocess.Popen(
            [sys.executable, "-m", "headbench.cli", "serve"],
            stdout=subprocess.DEVNULL,
            env=os.environ | said,
            start_new_session=True,
        )
        wait_for(f"http://127.0.0.1:{self.port}/health/ready", self.process)

    def stop(self) -> int:
        """Stop as a supervisor does; the exit status."""
        self.process.send_signal(signal.SIGTERM)
        return self.process.wait(SECONDS)

    def kill(self) -> None:
        """Stop as a power cut does: every process at once; nothing where none runs."""
        if self._process is not None and self._process.poll() is None:
            os.killpg(self._process.pid, signal.SIGKILL)
            self._process.wait(SECONDS)


@dataclass(frozen=True)
class Pair:
    """Two replicas and where the balancer in front of them listens."""

    address: str
    replicas: tuple[Replica, Replica]


@contextmanager
def balanced() -> Iterator[Pair]:
    """Two replicas behind the balancer, all ready; everything is stopped afterward."""
    one, two, port = Replica(), Replica(), free_port()
    address = f"127.0.0.1:{port}"
    said = {
        "BALANCER": address,
        "REPLICA_ONE": f"127.0.0.1:{one.port}",
        "REPLICA_TWO": f"127.0.0.1:{two.port}",
    }
    balancer = None
    try:
        one.start()
        two.start()
        command: list[str | Path] = ["haproxy", "-q", "-db", "-f", _BALANCER]
        balancer = subprocess.Popen(command, stdout=subprocess.DEVNULL, env=os.environ | said)  # noqa: S603 - our own
        wait_for(f"http://{address}/health/ready", balancer)
        yield Pair(f"http://{address}", (one, two))
    finally:
        if balancer is not None:
            balancer.kill()
            balancer.wait()
        one.kill()
        two.kill()
