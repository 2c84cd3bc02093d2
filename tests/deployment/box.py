"""A box: an image's folder run as a container engine would, by the kernel alone.

Its root read-only, its own process numbers, no capability, no way to gain one; /tmp and /dev/shm are all that can be
written. The network is the machine's, so that a test can ask what runs inside.
"""

from __future__ import annotations

import json
import subprocess
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

SECONDS: Final = 60.0
"""How long to wait for what happens at once on a machine that is not busy."""

_ENTER: Final = """
set -e
root=$1; user=$2; shift 2
mount --bind "$root" "$root"
mount -o remount,bind,ro "$root"
mount -t proc proc "$root/proc"
mount -t tmpfs -o mode=755 dev "$root/dev"
for one in null zero random urandom; do touch "$root/dev/$one"; mount --bind "/dev/$one" "$root/dev/$one"; done
mkdir -m 1777 "$root/dev/shm"
mount -o remount,ro "$root/dev"
mount -t tmpfs -o mode=1777,size=64m shm "$root/dev/shm"
mount -t tmpfs -o mode=1777,size=16m tmp "$root/tmp"
exec chroot "$root" setpriv --reuid="$user" --regid="$user" --clear-groups --no-new-privs --bounding-set=-all "$@"
"""


@dataclass(frozen=True)
class Image:
    """An image laid out in a folder, and what it says of itself."""

    root: Path
    config: Mapping[str, Any]

    def command(self, *command: str, **environment: str) -> Sequence[str]:
        """What runs a command (the image's own if none is named) in a box of this image."""
        if not command:
            command = (*self.config["Entrypoint"], *self.config["Cmd"])
        given = dict(one.split("=", 1) for one in self.config["Env"]) | environment
        return [
            *("unshare", "--mount", "--pid", "--fork", "--kill-child", "sh", "-c", _ENTER, "box"),
            *(str(self.root), self.config["User"], "env", "-i"),
            *(f"{name}={value}" for name, value in given.items()),
            *command,
        ]

    def run(self, *command: str, **environment: str) -> subprocess.CompletedProcess[str]:
        """Run a command in a box until it ends."""
        boxed = self.command(*command, **environment)
        return subprocess.run(boxed, capture_output=True, text=True, check=False, timeout=SECONDS)  # noqa: S603 - our own

    @contextmanager
    def running(self, **environment: str) -> Iterator[subprocess.Popen[str]]:
        """The image's own command in a box; killed with all it started if it still runs afterward."""
        boxed = self.command(**environment)
        with subprocess.Popen(boxed, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) as box:  # noqa: S603 - our own
            try:
                yield box
            finally:
                box.kill()


def first_process(box: subprocess.Popen[str]) -> int:
    """The number that the machine knows the first process of a box by."""
    children = Path(f"/proc/{box.pid}/task/{box.pid}/children")
    end = time.monotonic() + SECONDS
    while time.monotonic() < end and box.poll() is None:
        if found := children.read_text().split():
            return int(found[0])
        time.sleep(0.01)
    raise RuntimeError("the box did not start")


@contextmanager
def laid_out(name: str) -> Iterator[Image]:
    """An image of this machine's store in a folder."""

    def buildah(*command: str) -> str:
        done = subprocess.run(["buildah", *command], capture_output=True, text=True, check=True)  # noqa: S603, S607
        return done.stdout.strip()

    said = json.loads(buildah("inspect", "--type", "image", name))
    container = buildah("from", "--pull-never", name)
    try:
        yield Image(Path(buildah("mount", container)), said["Docker"]["config"])
    finally:
        buildah("rm", container)
