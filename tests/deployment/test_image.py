"""The image that docker/image.sh built, run as an engine would run it: locked down, and stopped."""

from __future__ import annotations

import json
import os
import re
import shutil
import signal
import subprocess
import time
import tomllib
import urllib.request
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from tests.deployment.box import SECONDS, Image, first_process, laid_out
from tests.deployment.ports import free_port

pytestmark = pytest.mark.deployment

ROOT: Final = Path(__file__).parents[2]
NAME: Final = "localhost/headbench:latest"
MOST_MEGABYTES: Final = 400.0
"""What the image may add to its base: its environment, and the interpreter."""


@pytest.fixture(scope="module")
def image() -> Iterator[Image]:
    for tool in ("buildah", "unshare", "setpriv"):
        if shutil.which(tool) is None:
            pytest.skip(f"the image was not tried: there is no {tool} here")
    if os.geteuid() != 0:
        pytest.skip("the image was not tried: boxing it takes root")
    there = subprocess.run(["buildah", "inspect", "--type", "image", NAME], capture_output=True, check=False)  # noqa: S603, S607
    if there.returncode:
        pytest.skip(f"the image was not tried: there is no {NAME} here; run make image first")
    with laid_out(NAME) as found:
        yield found


@dataclass(frozen=True)
class Served:
    """A box that answers: where, and its processes."""

    port: int
    box: subprocess.Popen[str]

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"


def wait_until_ready(served: Served) -> None:
    end = time.monotonic() + SECONDS
    while time.monotonic() < end and served.box.poll() is None:
        try:
            urllib.request.urlopen(f"{served.address}/health/ready", timeout=1.0).close()  # noqa: S310 - our own
        except OSError:
            time.sleep(0.05)
        else:
            return
    served.box.kill()
    pytest.fail(f"the image did not start: {served.box.stdout.read() if served.box.stdout else ''}")


@pytest.fixture
def served(image: Image) -> Iterator[Served]:
    port = free_port()
    with image.running(HEADBENCH_PORT=str(port)) as box:
        found = Served(port, box)
        wait_until_ready(found)
        yield found


def healthcheck(image: Image, port: int) -> int:
    kind, *command = image.config["Healthcheck"]["Test"]
    assert kind == "CMD"
    return image.run(*command, HEADBENCH_PORT=str(port)).returncode


def test_it_answers_the_request_of_the_readme(served: Served) -> None:
    if shutil.which("curl") is None:
        pytest.skip("the README's request was not sent to the image: there is no curl here")
    readme = (ROOT / "README.md").read_text()
    command = re.search(r"<!-- request -->\n```sh\n(.*?)```", readme, re.DOTALL)
    printed = re.search(r"<!-- answer -->\n```json\n(.*?)```", readme, re.DOTALL)
    assert command
    assert printed
    asked = command[1].replace("http://127.0.0.1:8317", served.address)
    answer = json.loads(subprocess.run(["sh", "-c", asked], capture_output=True, check=True).stdout)  # noqa: S603, S607
    shown = json.loads(printed[1])
    assert {name: answer[name] for name in shown} == shown


def test_its_healthcheck_tells_one_that_runs_from_one_that_does_not(image: Image, served: Served) -> None:
    assert healthcheck(image, served.port) == 0
    assert healthcheck(image, free_port()) != 0


def test_told_to_stop_it_ends_with_0(served: Served) -> None:
    os.kill(first_process(served.box), signal.SIGTERM)
    assert served.box.wait(SECONDS) == 0


def test_no_process_of_it_has_a_user_or_a_right_that_matters(image: Image, served: Served) -> None:
    assert int(image.config["User"]) >= 1000
    first = first_process(served.box)
    numbers = {first, *map(int, Path(f"/proc/{first}/task/{first}/children").read_text().split())}
    for number in numbers:
        status = dict(
            line.split(":\t", 1) for line in Path(f"/proc/{number}/status").read_text().splitlines() if ":\t" in line
        )
        assert set(status["Uid"].split()) == {image.config["User"]}
        assert {int(status[name], 16) for name in ("CapEff", "CapPrm", "CapInh", "CapBnd", "CapAmb")} == {0}
        assert status["NoNewPrivs"] == "1"


def test_it_can_write_nowhere_but_in_memory(image: Image) -> None:
    # the box has a read-only root; what the image's own permissions would let its user write must be nothing, too
    find = "find / -xdev \\( -user $(id -u) -o -group $(id -g) -o -perm -o+w \\) ! -type l ! -path /proc -print"
    found = image.run("sh", "-c", find).stdout.split()
    assert {place for place in found if not place.startswith(("/tmp", "/var/tmp", "/run/lock"))} == set()  # noqa: S108
    refused = image.run("python", "-c", "open('/opt/headbench/x', 'w')")
    assert "Read-only file system" in refused.stderr


def test_it_carries_labels_that_say_what_it_is(image: Image) -> None:
    prefix = "org.opencontainers.image."
    labels = {
        name.removeprefix(prefix): text for name, text in image.config["Labels"].items() if name.startswith(prefix)
    }
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    assert labels["title"] == "Headbench"
    assert labels["version"] == project["version"]
    assert labels["licenses"] == project["license"]
    assert re.fullmatch(r"[0-9a-f]{40}|unknown", labels["revision"])
    assert re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ", labels["created"])
    assert image.run("headbench", "--version").stdout.split() == ["headbench", project["version"]]


def test_its_bill_of_materials_names_what_the_lock_names(image: Image) -> None:
    bill = json.loads((image.root / "opt/headbench/sbom.cdx.json").read_text())
    assert bill["bomFormat"] == "CycloneDX"
    assert bill["metadata"]["component"]["name"] == "headbench"
    listed = {(canonicalize_name(one["name"]), one["version"]) for one in bill["components"]}
    python = image.run("python", "-c", "import platform; print(platform.python_version())").stdout.strip()
    where = {"python_full_version": python, "python_version": python.rsplit(".", 1)[0]}
    locked = set()
    for line in re.findall(r"^[^ #-].*==.*?(?= \\$)", (ROOT / "requirements.lock").read_text(), re.MULTILINE):
        asked = Requirement(line)
        if asked.marker is None or asked.marker.evaluate(where):
            locked.add((canonicalize_name(asked.name), str(asked.specifier).removeprefix("==")))
    assert listed == locked


def test_it_holds_nothing_that_only_making_it_takes(image: Image) -> None:
    installed = {
        path.name.partition("-")[0].lower() for path in image.root.glob("opt/headbench/lib/*/site-packages/*.dist-info")
    }
    assert "headbench" in installed
    assert installed.isdisjoint({"pip", "setuptools", "wheel", "hatchling", "cyclonedx_bom", "pytest", "granian"})
    assert [
        name
        for name in ("pip", "pip3", "gcc", "cc", "make", "git", "curl")
        if image.run("sh", "-c", f"command -v {name}").stdout
    ] == []
    assert not list(image.root.glob("opt/tools"))
    assert not list(image.root.glob("src"))
    assert not list(image.root.glob("root/.cache"))
    assert not list(image.root.glob("var/lib/apt/lists/*_Packages*"))
    assert not list(image.root.glob("var/cache/apt/archives/*.deb"))


def test_it_is_small(image: Image) -> None:
    added = [image.root / "opt", *image.root.glob("usr/lib/python3*"), *image.root.glob("usr/lib/*/libpython3*")]
    size = sum(path.lstat().st_size for place in added for path in (place, *place.rglob("*")) if not path.is_symlink())
    assert size < MOST_MEGABYTES * 1e6
