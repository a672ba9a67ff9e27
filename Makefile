# Dawnlevel's tasks. `make` alone lists them.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
RUN_READY := $(VENV)/.run-ready
DEV_READY := $(VENV)/.dev-ready
export DAWNLEVEL_DATA ?= build/demo
SERVE ?= 1
PORT ?= 8420

.DEFAULT_GOAL := help
.PHONY: help run sample test programs lint bench docs screens requirements clean

help: ## list the tasks
	@awk -F':.*## ' '/^[a-z]+:.*## /{printf "  make %-14s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

run: $(RUN_READY) ## set up, play the main job on the demo tank, then serve its pages; SERVE=0 stops before, PORT=8420
	@$(BIN)/dawnlevel demo --fresh
ifeq ($(SERVE),1)
	@$(BIN)/dawnlevel serve --demo --port $(PORT)
endif

sample: $(RUN_READY) ## write what the demo tank's keeper can hand on: build/sample/
	@$(BIN)/dawnlevel demo > /dev/null
	@mkdir -p build/sample
	@$(BIN)/dawnlevel export --store $(DAWNLEVEL_DATA)/demo.sqlite3 --package build/sample/export --archive build/sample/archive.json
	@for file in plan.pdf plan.html; do $(BIN)/dawnlevel handover --tank Fernbrook --store $(DAWNLEVEL_DATA)/demo.sqlite3 -o build/sample/$$file; done
	@$(BIN)/dawnlevel calendar --tank Fernbrook --store $(DAWNLEVEL_DATA)/demo.sqlite3 -o build/sample/plan.ics

test: PROGRAMS = chromium mosquitto
test: $(DEV_READY) programs lint ## set up, then lint, types, architecture and all tests
	$(BIN)/python -m pytest

# chromium for pictures and tests in a real browser, mosquitto for those over MQTT; tests without theirs are skipped and say so
programs:
	@missing=$$(for name in $(PROGRAMS); do PATH="$$PATH:/usr/sbin" command -v $$name >/dev/null || echo $$name; done | xargs); \
	  [ -z "$$missing" ] || { [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null && timeout 300 apt-get update -qq \
	  && timeout 600 apt-get install -y -qq --no-install-recommends $$missing; } \
	  || echo "Not here, so what needs it is skipped: $$missing. Debian: apt-get install $$missing"

lint: $(DEV_READY) ## style, types and the floors
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: $(DEV_READY) ## measure speed and tuning: build/bench/report.md; QUICK=1 for a small run, KEEP=1 to go on
	$(BIN)/python -m benchmarks.report $(if $(QUICK),--quick) $(if $(KEEP),--keep) $(if $(JOBS),--jobs $(JOBS))

docs: $(DEV_READY) ## write the generated pages (commands, JSON fields, sources, messages)
	$(BIN)/python -m docs.generate

screens: PROGRAMS = chromium
screens: $(DEV_READY) programs ## picture every page, phone and desk, light and dark: docs/screens/
	$(BIN)/python -m docs.screens

requirements: $(DEV_READY) ## pin the requirement files afresh, with hashes
	$(BIN)/python -m pip install --quiet uv
	$(BIN)/uv pip compile --universal --python-version 3.11 --generate-hashes --no-annotate --no-header --upgrade --quiet requirements/run.in -o requirements/run.txt
	$(BIN)/uv pip compile --universal --python-version 3.11 --generate-hashes --no-annotate --no-header --upgrade --quiet requirements/dev.in -o requirements/dev.txt

clean: ## remove the environment and everything built
	rm -rf $(VENV) build .mypy_cache .ruff_cache .pytest_cache .hypothesis

$(VENV)/bin/python:
	$(PYTHON) -m venv $(VENV)

# The requirement files name every package with its hashes, so nothing is left to resolve; `pip check` sees that nothing is missing.
$(RUN_READY): requirements/run.txt pyproject.toml | $(VENV)/bin/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --require-hashes -r requirements/run.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	@$(BIN)/python -m pip check
	@touch $@

$(DEV_READY): requirements/dev.txt pyproject.toml | $(VENV)/bin/python
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --require-hashes -r requirements/dev.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	@$(BIN)/python -m pip check
	@touch $@ $(RUN_READY)
