"""The files in docker/ held against published schemas, and read by the tools they are for."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Final

import pytest

pytestmark = pytest.mark.deployment

DOCKER: Final = Path(__file__).parents[2] / "docker"
KUBERNETES: Final = ("1.30.0", "1.37.0")
"""Oldest and newest release whose schemas the manifests are held against."""
MOST_EXPOSURE: Final = 1.5
"""What `systemd-analyze security` may find, out of 10: opening a port to the shop's network is most of it."""


def run(*command: str | Path, needs: str | None = None, **environment: str) -> str:
    """What a tool says of a file it finds nothing wrong with."""
    if needs is not None and shutil.which(needs) is None:
        pytest.skip(f"{command[-1]} was not tried: there is no {needs} here")
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=os.environ | environment)  # noqa: S603 - our own
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


def ours(name: str) -> Path:
    """A tool of this environment."""
    return Path(sys.executable).with_name(name)


def test_the_dockerfile_is_as_its_linter_wants_it() -> None:
    assert run(ours("hadolint"), "--failure-threshold", "info", DOCKER / "Dockerfile") == ""


def test_compose_fits_its_published_schema() -> None:
    run(ours("check-jsonschema"), "--builtin-schema", "vendor.compose-spec", DOCKER / "compose.yaml")


@pytest.mark.parametrize("version", KUBERNETES)
def test_every_manifest_fits_the_published_schema_of_its_kind(version: str) -> None:
    # strict: a field that the schema does not know is a slip, which a cluster would ignore
    said = run(ours("kubernetes-validate"), "--strict", "-k", version, DOCKER / "kubernetes.yaml")
    for kind in ("deployment", "service", "poddisruptionbudget", "networkpolicy"):
        assert f"passed for resource {kind}/headbench" in said


def test_the_balancer_takes_its_settings() -> None:
    where = {"BALANCER": "127.0.0.1:8317", "REPLICA_ONE": "127.0.0.1:8318", "REPLICA_TWO": "127.0.0.1:8319"}
    run("haproxy", "-c", "-f", DOCKER / "haproxy.cfg", needs="haproxy", **where)


def test_the_unit_is_as_systemd_wants_it_and_locked_down(tmp_path: Path) -> None:
    # whether the command is there is the PC's affair, not the file's
    text = (DOCKER / "headbench.service").read_text()
    (unit := tmp_path / "headbench.service").write_text(text.replace("/opt/headbench/bin/headbench", "/bin/true"))
    assert run("systemd-analyze", "verify", "--man=no", unit, needs="systemd-analyze") == ""
    threshold = f"--threshold={round(10 * MOST_EXPOSURE)}"
    run("systemd-analyze", "security", "--offline=true", "--no-pager", threshold, unit, needs="systemd-analyze")


@pytest.mark.parametrize("script", ["image.sh", "wheelhouse.sh"])
def test_a_script_is_one_that_bash_reads(script: str) -> None:
    run("bash", "-n", DOCKER / script)
