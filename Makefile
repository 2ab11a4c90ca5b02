# make run: set up and serve with demo data.  make test: set up and check everything.
# make test-full, make soak: what takes long, run once before a release.
PYTHON ?= python3
PORT ?= 8000
HOST ?= 127.0.0.1
BIN := .venv/bin
# One more than there are cores: some tests only wait, for a server, a worker or a browser.
WORKERS := $(shell expr $$(getconf _NPROCESSORS_ONLN) + 1)
PYTEST := $(BIN)/python -m pytest -n $(WORKERS) --dist loadscope --no-loadscope-reorder
API_CASES ?= 5000
KILLS ?= 200
FAULTS ?= 50
# Not below test-results, which the browser's plugin empties when tests begin.
STATEMENTS := .pytest_cache/statements

.PHONY: run test test-full tour soak check bench screens fonts migrations-check requirements sbom clean

run: .venv/run.stamp
	@$(BIN)/python manage.py start --host $(HOST) --port $(PORT)

# Tests of one module stay together, since they share what is costly to make. Browsers get the machine to themselves.
# What each test asks of the database is noted, for who then runs some of them on another (tests/statements.py).
test: check
	@rm -rf $(STATEMENTS)
	@STATEMENTS=$(STATEMENTS) $(PYTEST) -m "not browser"
	@$(PYTEST) tests/browser

# In the whole browser instead of its shell, and every page in both themes at every size.
test-full: check
	@WHOLE=on $(PYTEST) -m "not browser"
	@WHOLE=on CHROMIUM=$$(command -v chromium || command -v chromium-browser || command -v google-chrome) $(PYTEST) tests/browser

# The pictures of the README, taken of the demo that `make run` serves meanwhile.
tour: .venv/dev.stamp
	@$(BIN)/python -m tests.tour http://127.0.0.1:$(PORT)

# Thousands of made-up API calls, a queue through cuts and crashes, 200 keepers at once, kills and faults.
soak: .venv/dev.stamp
	@API_CASES=$(API_CASES) $(BIN)/python -m pytest -s tests/api/test_generated_cases.py
	@$(BIN)/python -m tests.benchmarks.bench_queue
	@$(BIN)/python -m tests.benchmarks.bench_load
	@KILLS=$(KILLS) $(BIN)/python -m pytest -s tests/test_kills.py
	@FAULTS=$(FAULTS) $(BIN)/python -m pytest -s tests/test_faults.py

check: .venv/dev.stamp
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/djlint templates --lint --quiet
	@$(BIN)/mypy
	@$(BIN)/python manage.py check --fail-level WARNING
	@$(MAKE) --no-print-directory migrations-check

migrations-check: .venv/dev.stamp
	@$(BIN)/python manage.py makemigrations --check --dry-run

bench: .venv/bench.stamp
	@$(BIN)/python -m tests.benchmarks

# A picture of every main screen, of an empty tank, the demo and a tank kept for years, to look at.
screens: .venv/dev.stamp
	@$(BIN)/python -m tests.screens

# Makes static/fonts and its style sheet anew, from packages of the npm registry.
fonts: .venv/fonts.stamp
	@$(BIN)/python -m reeflog.make_fonts

# Pins with hashes, anew from requirements*.in: what is pinned stays unless UPGRADE names it (UPGRADE="-P django").
UPGRADE ?=
PINS := $(BIN)/uv pip compile --universal --python-version 3.11 --generate-hashes --no-annotate --quiet --custom-compile-command "make requirements"
requirements: .venv/dev.stamp
	@for name in requirements requirements-redis requirements-celery requirements-s3 requirements-dev requirements-bench requirements-fonts; do \
	  $(PINS) $(UPGRADE) $$name.in -o $$name.txt || exit 1; done

# What the app is made of, as a CycloneDX bill of materials.
sbom: .venv/dev.stamp
	@mkdir -p test-results
	@$(BIN)/cyclonedx-py requirements requirements.txt --pyproject pyproject.toml --output-reproducible -o test-results/sbom.json
	@echo test-results/sbom.json

clean:
	rm -rf .venv test-results

.venv/bin/python:
	@command -v $(PYTHON) >/dev/null 2>&1 || { echo "Python 3.11 or newer is needed, and '$(PYTHON)' is not here. Install it or say: make PYTHON=/path/to/python3"; exit 1; }
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Python 3.11 or newer is needed; '$(PYTHON)' is older. Say: make PYTHON=/path/to/python3.11"; exit 1; }
	@$(PYTHON) -m venv .venv || { echo "Python's venv module is missing here (on Debian: apt install python3-venv)."; exit 1; }

.venv/run.stamp: requirements.txt | .venv/bin/python
	@echo "Installing what reeflog runs on ..."
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check -r requirements.txt
	@touch $@

.venv/dev.stamp: requirements.txt requirements-dev.txt | .venv/bin/python
	@echo "Installing what the tests need ..."
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check -r requirements-dev.txt
	@touch $@ .venv/run.stamp

.venv/bench.stamp: requirements-bench.txt .venv/dev.stamp
	@echo "Installing the peers the benchmarks compare with ..."
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check -r requirements-bench.txt
	@touch $@

.venv/fonts.stamp: requirements-fonts.txt | .venv/bin/python
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check -r requirements-fonts.txt
	@touch $@
