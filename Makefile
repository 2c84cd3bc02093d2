# What a person types; `make` alone lists it.
PYTHON ?= python3
PORT ?= 8317
VENV := .venv
BIN := $(VENV)/bin
# locks are whole, so nothing is resolved; what is never imported is never compiled
INSTALL = $(BIN)/pip install -q --disable-pip-version-check --no-compile --require-hashes --no-deps

# what is checked without running anything
define STATIC
$(BIN)/ruff format --check service tests
$(BIN)/ruff check service tests
$(BIN)/mypy
$(BIN)/lint-imports
endef
# on every core; a core that is done takes over what another has still before it
PYTEST := $(BIN)/pytest -n auto --dist worksteal
# what takes long, root or a tool of the machine, and is not part of the tests
BY_HAND := $(BIN)/pytest -m deployment -s
PYTHONS ?= python3.11 python3.12 python3.13

.DEFAULT_GOAL := help
.PHONY: help demo serve check test static suite fuzz mutants schema factors lock bench audit clean
.PHONY: image image-test rolling soak sizing wheelhouse wheel-test deployment pythons

help: ## list what can be made
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 12

demo: $(VENV)/runs ## start the service, post a half-measured pair of heads, print its assembly sheet
	$(BIN)/headbench demo shared/demo/two-heads.json

serve: $(VENV)/runs ## run the service at http://127.0.0.1:8317 (another port: make serve PORT=8400)
	$(BIN)/headbench serve --port $(PORT)

check: $(VENV)/tests ## for every day: run all but the contract and client tests, in about a minute
	$(STATIC)
	$(PYTEST) --ignore=tests/contract --ignore=tests/clients

test: $(VENV)/tests ## run everything CI runs
	@$(MAKE) --no-print-directory -j 2 static suite

# side by side: the type checker keeps one core busy, while tests wait for browsers and servers
static:
	$(STATIC)

suite:
	$(PYTEST)

bench: $(VENV)/tests ## measure everything that is measured, in one table (keep the machine quiet; 3 minutes)
	$(BIN)/python -m tests.benchmarks

audit: $(VENV)/tests ## ask whether advisories are known of what ships (needs a network; status 3 where none is)
	$(BIN)/python -m tests.audit requirements.lock

image: ## build the container image by buildah (docker/README.md; takes root, buildah, and debootstrap without a registry)
	docker/image.sh

image-test: $(VENV)/tests ## run the image that was built, locked down, and stop it (takes root)
	$(BY_HAND) tests/deployment/test_image.py

rolling: $(VENV)/tests ## restart, kill and overrun two replicas behind haproxy under load
	$(BY_HAND) tests/deployment/test_rolling.py

soak: MINUTES = 60
soak: $(VENV)/tests ## keep the service busy and see that memory and descriptors stay (an hour; MINUTES=10 for less)
	$(BIN)/python -m tests.deployment.soak --minutes $(MINUTES)

sizing: $(VENV)/tests ## measure what a job costs and what the processes hold (the table of docker/sizing.md)
	$(BIN)/python -m tests.deployment.sizing

wheelhouse: ## put all that a PC without a network is installed from into dist/wheelhouse (docker/shop-pc.md)
	docker/wheelhouse.sh "$(PYTHON)"

wheel-test: $(VENV)/tests ## install the wheel in an empty environment without an index and check what it answers
	$(BY_HAND) tests/deployment/test_wheel.py

deployment: $(VENV)/checks ## check the files in docker/ against published schemas and by the tools they are for
	$(BY_HAND) tests/deployment/test_files.py

pythons: ## run the tests on each Python from 3.11 to 3.13 that is here (or: PYTHONS="python3.12 ...")
	@for one in $(PYTHONS); do \
	  if ! $$one -c '' 2>/dev/null; then echo "WARNING: not tried on $$one: it is not here" >&2; continue; fi; \
	  $(MAKE) PYTHON=$$one VENV=$(VENV)-$$(basename $$one) test || exit 1; \
	done

fuzz: MINUTES = 3
fuzz: $(VENV)/tests ## send what nobody should, for MINUTES=3, and hold every answer to the schema and to the laws (SEED=)
	$(BIN)/python -m tests.fuzz --minutes $(MINUTES) $(if $(SEED),--seed $(SEED))

mutants: $(VENV)/tests ## change ROOM=springs of calc a place at a time and tell what its tests do not notice (minutes to hours)
	$(INSTALL) -r tests/mutants/requirements.lock
	$(BIN)/python -m tests.mutants $(ROOM)

schema: $(VENV)/runs ## write openapi/openapi.json anew
	$(BIN)/headbench openapi > openapi/openapi.json

factors: $(VENV)/runs ## write the units' factors anew
	$(BIN)/headbench factors > factors.json && mv factors.json service/headbench/factors.json

lock: ## resolve the locks anew (needs uv)
	uv pip compile -q --universal --generate-hashes --no-header --python-version 3.11 \
	  pyproject.toml --override docker/left-out.txt -o requirements.lock
	uv pip compile -q --universal --generate-hashes --no-header --python-version 3.11 \
	  pyproject.toml --extra client --group build --group dev --group bench -c requirements.lock -o requirements-dev.lock
	uv pip compile -q --universal --generate-hashes --no-header --python-version 3.11 \
	  --group build -c requirements-dev.lock -o docker/checkout.lock
	uv pip compile -q --universal --generate-hashes --no-header --python-version 3.11 \
	  --group build --group sbom -c requirements-dev.lock -o docker/build.lock
	uv pip compile -q --universal --generate-hashes --no-header --python-version 3.11 \
	  --group deployment -c requirements-dev.lock -o docker/check.lock
	uv pip compile -q --universal --generate-hashes --no-header --python-version 3.11 \
	  pyproject.toml --extra client -c requirements-dev.lock -o docker/pc.lock
	uv pip compile -q --universal --generate-hashes --no-header --python-version 3.11 \
	  pyproject.toml --group mutants -c requirements-dev.lock -o tests/mutants/requirements.lock

clean: ## remove what make made
	rm -rf $(VENV) $(VENV)-python3.* dist

# The environment, with what it takes to run; then with what it takes to test.
$(VENV)/bin/python:
	@command -v $(PYTHON) >/dev/null || { echo "There is no $(PYTHON) here. On Debian: apt install python3 python3-venv"; exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	  { echo "Headbench needs Python 3.11 or newer. Name one with: make PYTHON=python3.12 ..."; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || \
	  { echo "$(PYTHON) cannot make environments. On Debian: apt install python3-venv"; exit 1; }
	$(PYTHON) -m venv $(VENV)

$(VENV)/runs: requirements.lock docker/checkout.lock pyproject.toml | $(VENV)/bin/python
	$(INSTALL) -r requirements.lock -r docker/checkout.lock
	$(BIN)/pip install -q --disable-pip-version-check --no-deps --no-build-isolation -e .
	@touch $@

$(VENV)/tests: requirements-dev.lock $(VENV)/runs
	$(INSTALL) -r requirements-dev.lock
	@touch $@

$(VENV)/checks: docker/check.lock $(VENV)/tests
	$(INSTALL) -r docker/check.lock
	@touch $@
