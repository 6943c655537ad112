# The same lines that CI runs. `make demo` and `make test` need only python3 (3.11+), python3-venv and make.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
UV := uv==0.13.9
DEMO := build/demo

.PHONY: help demo test lint types bench bench-quick soak docs clean

help:
	@echo 'make demo    plan and print a whole invented production into $(DEMO)'
	@echo 'make test    lint, types, layers, then every test but the long ones'
	@echo 'make lint    ruff, and the layers of imports'
	@echo 'make types   strict mypy over source, tests, benchmarks and examples'
	@echo 'make docs    run the commands that the documentation shows'
	@echo 'make bench   the benchmarks, within two hours; they go on where they were stopped'
	@echo 'make bench-quick   the shorter ones, within ten minutes'
	@echo 'make soak    the long tests'
	@echo 'make clean   remove what these made'

# uv is quick; without it (no network for it, no wheel for this machine) plain pip does the same.
$(VENV)/.stamp: pyproject.toml constraints.txt
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
		|| { echo 'Python 3.11 or newer is needed: make PYTHON=python3.12 $(MAKECMDGOALS)' >&2; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null \
		|| { echo 'python3-venv is missing: apt-get install python3-venv, then make again' >&2; exit 1; }
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check $(UV) || echo 'no uv: pip does it'
	$(BIN)/uv pip install --quiet --python $(BIN)/python -c constraints.txt -e '.[test]' \
		|| $(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[test]'
	@touch $@

demo: $(VENV)/.stamp
	$(BIN)/python -m examples.demo $(DEMO)
	$(BIN)/python -m examples.others build/others

test: lint types
	$(BIN)/python -m pytest -n 2 -m 'not soak'

lint: $(VENV)/.stamp
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/lint-imports --no-logo

types: $(VENV)/.stamp
	$(BIN)/mypy

docs: $(VENV)/.stamp
	$(BIN)/python -m pytest tests/test_docs.py

bench: $(VENV)/.stamp
	$(BIN)/python -m benchmarks

bench-quick: $(VENV)/.stamp
	$(BIN)/python -m benchmarks --quick

soak: $(VENV)/.stamp
	$(BIN)/python -m pytest -m 'soak or random_cases' --hypothesis-profile=soak

clean:
	rm -rf build dist $(VENV) .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache
