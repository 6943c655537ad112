# The same lines that CI runs. `make demo` and `make test` need only python3 (3.11+), python3-venv and make.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test lint types bench soak docs clean

$(VENV)/.stamp: pyproject.toml constraints.txt
	$(PYTHON) -c 'import sys; sys.exit("Python 3.11 or newer is needed; set PYTHON=python3.11") if sys.version_info < (3, 11) else None'
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet uv -c constraints.txt || true
	$(BIN)/uv pip install --quiet --python $(BIN)/python -c constraints.txt -e '.[test]' \
		|| $(BIN)/python -m pip install --quiet -c constraints.txt -e '.[test]'
	touch $@
