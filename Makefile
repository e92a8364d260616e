# Tackwatch. `make` lists what there is; DEVELOPERS.md says more.

SHELL := /bin/bash
.SHELLFLAGS := -euo pipefail -c
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
.NOTPARALLEL:
MAKEFLAGS += --no-builtin-rules --no-print-directory

PYTHON ?= $(or $(shell command -v python3.11),python3)
HOST ?= 127.0.0.1
PORT ?= 8000
# how many processes share the tests
JOBS ?= 2
# more words for pytest, such as ARGS='-k recoat'
ARGS ?=

BIN := .venv/bin
PIP := $(BIN)/python -m pip --disable-pip-version-check --quiet
PYTEST := $(BIN)/python -m pytest --quiet
WEB := server/tackwatch/web/index.html
# folders too: a file that is taken away is a change
CLIENT_SOURCES := $(shell find client/src) client/build.mjs client/build_icons.mjs client/package.json \
	fixtures/vectors/merge/catalogue.json fixtures/trade/sums.json
FAST_TESTS := $(wildcard tests/trade tests/plan tests/merge tests/vectors tests/lint)

.PHONY: help
help: ## list the commands
	@grep -hE '^[a-z-]+:.*## ' $(firstword $(MAKEFILE_LIST)) | sed -E 's/:.*## /\t/' | expand -t 16

# --- running ---------------------------------------------------------------------------------------------------------

.PHONY: run
run: export TACKWATCH_DATA_DIR ?= data
run: export TACKWATCH_PUBLIC_URL ?= http://localhost:$(PORT)
run: export TACKWATCH_LOG ?= plain
run: $(BIN)/.run $(WEB) ## serve the app with a demo refit at http://localhost:8000
	@$(BIN)/tackwatch migrate
	@echo
	@echo "A demo refit. Each link lets one browser in as that person, once; open them in separate windows:"
	@echo
	@$(BIN)/tackwatch demo
	@echo
	@echo "Serving at $$TACKWATCH_PUBLIC_URL; each request is told in $$TACKWATCH_DATA_DIR/server.log. Ctrl-C stops."
	@echo
	@exec $(BIN)/tackwatch serve --host $(HOST) --port $(PORT) > $$TACKWATCH_DATA_DIR/server.log

.PHONY: client
client: $(WEB) ## build the client into the server's package

.PHONY: pictures
pictures: $(BIN)/.test $(WEB) ## take the pictures in docs/pictures anew
	tools/machine.sh
	$(BIN)/python -m tools.take_pictures

.PHONY: wheel
wheel: $(BIN)/.run $(WEB) ## build the wheel, which carries the built client, into dist/
	$(PIP) wheel --no-deps --no-build-isolation --wheel-dir dist .

# --- checking --------------------------------------------------------------------------------------------------------

.PHONY: test
test: machine lint types test-client test-fast test-server test-browser ## check everything, as CI does

.PHONY: lint
lint: $(BIN)/.test client/node_modules/.package-lock.json ## style, banned calls, and which floor may import which
	$(BIN)/ruff check
	$(BIN)/ruff format --check
	PYTHONPATH=server $(BIN)/lint-imports
	cd client && npm run --silent lint

.PHONY: types
types: $(BIN)/.test client/node_modules/.package-lock.json ## mypy on the server, tsc on the client
	$(BIN)/mypy
	cd client && npm run --silent types

.PHONY: test-client
test-client: client/node_modules/.package-lock.json ## the client's own tests
	cd client && npm run --silent test

.PHONY: test-fast
test-fast: $(BIN)/.test client/node_modules/.package-lock.json ## sums, merge, vectors, lint: no server
	$(PYTEST) -n $(JOBS) --dist loadgroup $(FAST_TESTS) $(ARGS)

.PHONY: test-server
test-server: $(BIN)/.test $(WEB) ## database, API, sync, alarms, deployment
	$(PYTEST) -n $(JOBS) --dist loadgroup tests $(addprefix --ignore=,$(FAST_TESTS) tests/browser) $(ARGS)

.PHONY: test-browser
test-browser: $(BIN)/.test $(WEB) ## phones in a real browser; one that fails is tried once more, and named
	$(PYTEST) -n $(JOBS) --dist loadfile --reruns 1 -rR tests/browser $(ARGS)

.PHONY: simulate
simulate: $(BIN)/.test client/node_modules/.package-lock.json ## play histories of phones and a server: N=1000 JOBS=2, or SEED=7
	@$(BIN)/python -m tools.simulate $(if $(SEED),--seed $(SEED),--n $(or $(N),100) --jobs $(JOBS)) $(ARGS)

.PHONY: simulate-mutants
simulate-mutants: $(BIN)/.test client/node_modules/.package-lock.json ## break sync in each way known, and see a history fail
	@$(BIN)/python -m tools.simulate_mutants

.PHONY: machine
machine: ## install what the tests need from the machine: Chromium, PostgreSQL
	tools/machine.sh

.PHONY: checks
checks: $(BIN)/python ## print how many checks of the sums come from outside, and where from
	$(BIN)/python -m tools.count_checks

.PHONY: bench
bench: $(BIN)/.test $(WEB) ## print how fast it is, against baselines of the same run
	$(BIN)/python -m tools.bench

.PHONY: bench-sync
bench-sync: $(BIN)/.test client/node_modules/.package-lock.json ## the exchange alone, beside a replication engine
	$(BIN)/python -m tools.bench exchange

.PHONY: bench-alarms
bench-alarms: $(BIN)/.test ## how late alarms ring, and what kills do: ARGS='--kills 500' for the kills alone
	$(BIN)/python -m tools.bench.alarms $(ARGS)

.PHONY: bench-forecast
bench-forecast: $(BIN)/.test ## the forecast of the launch: how fast, how true, how few jobs it moves
	$(BIN)/python -m tools.bench.forecast

.PHONY: bench-plan
bench-plan: $(BIN)/.test ## the planner's engine beside its bars: ARGS='first missed --seeds 1 2'
	@$(BIN)/python -m tools.bench.plan $(ARGS)

# --- keeping ---------------------------------------------------------------------------------------------------------

.PHONY: format
format: $(BIN)/.test client/node_modules/.package-lock.json ## put code into its form
	$(BIN)/ruff check --fix-only --quiet
	$(BIN)/ruff format
	cd client && npm run --silent format

.PHONY: catalogue
catalogue: $(BIN)/.run ## write the catalogue of kinds for the client
	$(BIN)/python -m tools.write_catalogue

.PHONY: sums
sums: $(BIN)/.run ## write the descriptions of the sums for the client
	$(BIN)/python -m tools.write_sums

.PHONY: lock
lock: $(BIN)/.test ## take the newest versions into requirements/
	$(PIP) install 'pip-tools>=7.6,<8'
	tools/lock.sh

.PHONY: clean
clean: ## take away what was installed and built; the data stay
	rm -rf .venv client/node_modules client/build server/tackwatch/web dist
	rm -rf .mypy_cache .pytest_cache .ruff_cache .import_linter_cache

# --- what the others stand on ----------------------------------------------------------------------------------------

$(BIN)/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
		|| { echo "Python 3.11 or newer is needed; name it with: make PYTHON=..." >&2; exit 1; }
	$(PYTHON) -m venv .venv

$(BIN)/.run: requirements/run.txt requirements/build.txt pyproject.toml | $(BIN)/python
	$(PIP) install --require-hashes -r requirements/run.txt -r requirements/build.txt
	$(PIP) install --no-deps --no-build-isolation --editable .
	@touch $@

$(BIN)/.test: requirements/test.txt $(BIN)/.run
	$(PIP) install --require-hashes -r requirements/test.txt
	@touch $@

client/node_modules/.package-lock.json: client/package.json client/package-lock.json
	@command -v npm > /dev/null || { echo "Node 20 with npm is needed to build the client." >&2; exit 1; }
	cd client && npm ci --silent
	@touch $@

$(WEB): client/node_modules/.package-lock.json $(CLIENT_SOURCES)
	cd client && npm run --silent build
