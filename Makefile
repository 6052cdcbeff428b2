# Every target works on a fresh machine: it makes .venv when absent and needs only python3 and pip.
PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.installed

.PHONY: demo test lint bench fuzz notebooks clean

# The versions the suite has run on, every file by its hash; then the package itself, built with what is there.
$(STAMP): pyproject.toml requirements/ci.txt
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --require-hashes --requirement requirements/ci.txt
	$(BIN)/python -m pip install --quiet --no-deps --no-build-isolation --editable .
	touch $(STAMP)

demo: $(STAMP)  ## the main job on the embedded sample island
	$(BIN)/pathprofile demo

test: $(STAMP)  ## the whole test suite
	$(BIN)/python -m pytest -n 2

lint: $(STAMP)  ## ruff, mypy and the import contract
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: $(STAMP)  ## speed and memory, medians on this machine
	$(BIN)/python -m bench

fuzz: $(STAMP)  ## 100,000 hostile inputs at everything that reads
	$(BIN)/python -m fuzz

notebooks: $(STAMP)  ## run the notebooks again and keep their small outputs
	$(BIN)/python notebooks/execute.py

clean:
	rm -rf $(VENV) build dist out .pytest_cache .ruff_cache .mypy_cache .import_linter_cache
