"""What the files in docker/ say to the service and of it: names it reads, ports it opens, times that fit together."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, Final

import pytest
import yaml

from headbench.api.serving.settings import VARIABLES, Settings

DOCKER: Final = Path(__file__).parent.parent / "docker"
COMPOSE: Final[Any] = yaml.safe_load((DOCKER / "compose.yaml").read_text())
KUBERNETES: Final[dict[str, Any]] = {
    one["kind"]: one["spec"] for one in yaml.safe_load_all((DOCKER / "kubernetes.yaml").read_text())
}
POD: Final = KUBERNETES["Deployment"]["template"]["spec"]
UNIT: Final = (DOCKER / "headbench.service").read_text()


def balancer_looks() -> tuple[float, int]:
    """Seconds from look to look of the balancer, and how many must fail."""
    found = re.search(r"default-server inter (\d+)s fall (\d+)", (DOCKER / "haproxy.cfg").read_text())
    assert found
    return float(found[1]), int(found[2])


def said_to_pod() -> dict[str, str]:
    (container,) = POD["containers"]
    return {one["name"]: one["value"] for one in container["env"]}


@pytest.mark.parametrize("path", sorted(DOCKER.iterdir()), ids=lambda path: path.name)
def test_a_file_names_no_setting_that_the_service_does_not_read(path: Path) -> None:
    if path.suffix == ".lock":
        return
    assert set(re.findall(r"HEADBENCH_[A-Z_]+\b", path.read_text())) <= set(VARIABLES.values())


@pytest.mark.parametrize("replica", ["one", "two"])
def test_a_replica_of_compose_drains_before_it_is_killed_and_until_the_balancer_has_noticed(replica: str) -> None:
    service = COMPOSE["services"][replica]
    drain, grace = (float(service["environment"][f"HEADBENCH_{name}_SECONDS"]) for name in ("DRAIN", "GRACE"))
    inter, fall = balancer_looks()
    assert drain > inter * fall
    assert float(service["stop_grace_period"].removesuffix("s")) > drain + grace


def test_a_pod_drains_before_it_is_killed_and_until_it_is_seen_as_not_ready() -> None:
    said, (container,) = said_to_pod(), POD["containers"]
    drain, grace = (float(said[f"HEADBENCH_{name}_SECONDS"]) for name in ("DRAIN", "GRACE"))
    probe = container["readinessProbe"]
    assert drain > probe["periodSeconds"] * probe["failureThreshold"]
    assert POD["terminationGracePeriodSeconds"] > drain + grace


def test_a_pod_is_as_the_restricted_standard_has_it() -> None:
    # Kubernetes, Pod Security Standards, "Restricted" (and what is wanted beyond: a read-only root, no token)
    (container,) = POD["containers"]
    assert POD["securityContext"]["runAsNonRoot"] is True
    assert POD["securityContext"]["runAsUser"] > 0
    assert POD["securityContext"]["seccompProfile"] == {"type": "RuntimeDefault"}
    assert container["securityContext"] == {
        "allowPrivilegeEscalation": False,
        "readOnlyRootFilesystem": True,
        "capabilities": {"drop": ["ALL"]},
    }
    assert {next(iter(set(one) - {"name"})) for one in POD["volumes"]} <= {"emptyDir", "configMap", "secret"}
    assert not {"hostNetwork", "hostPID", "hostIPC"} & set(POD)
    assert "hostPort" not in str(container["ports"])
    assert POD["automountServiceAccountToken"] is False


def test_a_pod_does_not_take_an_address_of_the_cluster_for_a_setting() -> None:
    # a service named headbench sets HEADBENCH_PORT=tcp://... in every pod beside it (Kubernetes, "Service")
    assert POD["enableServiceLinks"] is False


def test_a_pod_is_asked_at_the_port_it_opens() -> None:
    (container,) = POD["containers"]
    (port,) = container["ports"]
    assert said_to_pod()["HEADBENCH_PORT"] == str(port["containerPort"])
    assert KUBERNETES["NetworkPolicy"]["ingress"][0]["ports"] == [{"protocol": "TCP", "port": port["containerPort"]}]
    assert KUBERNETES["Service"]["ports"][0]["targetPort"] == port["name"]
    assert {container[f"{kind}Probe"]["httpGet"]["port"] for kind in ("startup", "readiness", "liveness")} == {
        port["name"]
    }


def test_all_that_names_the_replicas_of_a_cluster_names_the_same() -> None:
    labels = KUBERNETES["Deployment"]["template"]["metadata"]["labels"]
    assert KUBERNETES["Deployment"]["selector"]["matchLabels"] == labels
    assert KUBERNETES["Service"]["selector"] == labels
    assert KUBERNETES["PodDisruptionBudget"]["selector"]["matchLabels"] == labels
    assert KUBERNETES["NetworkPolicy"]["podSelector"]["matchLabels"] == labels
    assert KUBERNETES["PodDisruptionBudget"]["minAvailable"] < KUBERNETES["Deployment"]["replicas"]


@pytest.mark.parametrize("service", sorted(COMPOSE["services"]))
def test_a_container_of_compose_is_locked_down_and_bounded(service: str) -> None:
    one = COMPOSE["services"][service]
    assert one["read_only"] is True
    assert one["cap_drop"] == ["ALL"]
    assert "no-new-privileges:true" in one["security_opt"]
    assert not one.get("privileged")
    assert {"mem_limit", "cpus", "pids_limit"} <= set(one)


def test_the_unit_drains_before_it_is_killed() -> None:
    named = dict(re.findall(r"HEADBENCH_(DRAIN|GRACE)_SECONDS=([0-9.]+)", UNIT))
    usual = {"DRAIN": Settings().drain_seconds, "GRACE": Settings().grace_seconds}
    found = re.search(r"^TimeoutStopSec=(\d+)$", UNIT, re.MULTILINE)
    assert found
    assert float(found[1]) > sum(float(named.get(name, seconds)) for name, seconds in usual.items())
