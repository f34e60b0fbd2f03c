# The two commands that matter: `make demo` and `make test`. Each does all its own set-up.
PYTHON ?= python3
VENV   := .venv
BIN    := $(VENV)/bin
LOCK   := -c .ci/constraints.txt

.PHONY: demo test lint bench growth docs calibration faults screens system clean

demo: $(VENV)/.demo
	$(BIN)/tenthwise demo

test: $(VENV)/.test system
	$(BIN)/python -m pytest -q -n 3 $(ARGS)

lint: $(VENV)/.lint
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: $(VENV)/.test
	$(BIN)/python tests/benchmarks/run.py $(ARGS)

growth: $(VENV)/.test
	$(BIN)/python tests/benchmarks/growth.py

calibration: $(VENV)/.test
	$(BIN)/python tests/calibration/run.py

faults: $(VENV)/.test
	$(BIN)/python tests/faults/kill_runs.py 500
	FULL=1 $(BIN)/python -m pytest -q tests/faults/test_files.py -k millions

docs: $(VENV)/.test
	$(BIN)/python dashboard/help/build.py

screens: $(VENV)/.test system
	$(BIN)/python tests/browser/screens.py

# Chromium and PostgreSQL from the system's own packages, where that is possible; else their tests say so.
system:
	@sh .ci/system_packages.sh

$(BIN)/python:
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install -q --upgrade pip

$(VENV)/.demo: $(BIN)/python pyproject.toml .ci/constraints.txt
	PYTHONWARNINGS=ignore $(BIN)/python -m pip install -q $(LOCK) -e .
	@$(BIN)/python -m compileall -q tracker dashboard
	@touch $@

$(VENV)/.test: $(BIN)/python pyproject.toml .ci/constraints.txt
	PYTHONWARNINGS=ignore $(BIN)/python -m pip install -q $(LOCK) -e ".[test]"
	@$(BIN)/python -m compileall -q tracker dashboard
	@touch $@

$(VENV)/.lint: $(BIN)/python pyproject.toml .ci/constraints.txt
	PYTHONWARNINGS=ignore $(BIN)/python -m pip install -q $(LOCK) -e ".[test,lint]"
	@touch $@

clean:
	rm -rf $(VENV) .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache *.egg-info
