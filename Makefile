# Two commands: `make demo` shows the main job, `make test` proves this copy works.
# Each of them alone, on a machine with only python3 and make, creates .venv, installs and runs.

PYTHON ?= python3
BIN := .venv/bin
SOURCES := $(shell find firmware sim host_tools -type f -not -path '*/__pycache__/*')

.PHONY: demo test lint bench notes clean

demo: .venv/installed
	$(BIN)/oxlatch demo

test: .venv/installed-dev
	$(BIN)/python -m pytest -n 2 --dist loadfile

lint: .venv/installed-dev
	$(BIN)/ruff check firmware sim host_tools hardware_notes tests bench
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: .venv/installed-dev
	$(BIN)/python bench/run_all.py

notes: .venv/installed-dev
	$(BIN)/python hardware_notes/make_notes.py

.venv: .venv/installed

.venv/bin/python:
	$(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --upgrade pip

# What the package needs, then the wheel itself: built from this tree and installed as anyone would get it.
.venv/installed: .venv/bin/python pyproject.toml $(SOURCES)
	$(BIN)/python -m pip install --quiet build hatchling
	rm -rf dist
	$(BIN)/python -m build --wheel --no-isolation --outdir dist . > .venv/build.log || (cat .venv/build.log; false)
	$(BIN)/python -m pip install --quiet dist/oxlatch-*.whl
	$(BIN)/python -m pip install --quiet --force-reinstall --no-deps dist/oxlatch-*.whl
	touch $@

.venv/installed-dev: .venv/installed
	$(BIN)/python -m pip install --quiet "$$(echo dist/oxlatch-*.whl)[dev]"
	touch $@

clean:
	rm -rf .venv dist out
