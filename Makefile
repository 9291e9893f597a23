# One line a job. Needs Python 3.11 or newer with its venv module, and make; everything else is fetched.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
# Without compiling every module of every package: the install stays below 700 MB and is quicker.
INSTALL := $(BIN)/python -m pip install --quiet --no-compile --disable-pip-version-check --constraint constraints.txt
CASE ?= examples/tern_hollow/case.toml
OUT ?= out/tern_hollow

.PHONY: run test lint types bench litres fuzz long format clean

run: $(VENV)/.core  ## the example case: prints the headline and where the report lies
	$(BIN)/welkinwell run $(CASE) -o $(OUT)

test: $(VENV)/.test  ## every quick test
	$(BIN)/python -m tests.warm
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m pytest -m "not long" -n 2 --dist worksteal

long: $(VENV)/.test  ## the tests that are too slow for every change
	$(BIN)/python -m pytest -m long

lint: $(VENV)/.lint
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: $(VENV)/.lint
	$(BIN)/mypy

bench: $(VENV)/.bench  ## the march against other solvers; writes benchmarks/results/march.json
	$(BIN)/python -m benchmarks.march

litres: $(VENV)/.core  ## litres of 225 recorded designs, simulated anew; prints by kind what moved
	$(BIN)/python -m benchmarks.golden_litres

fuzz: $(VENV)/.core  ## damaged files for every reader, 60 s of the processor each; writes benchmarks/results/fuzz.json
	$(BIN)/python -m fuzz

format: $(VENV)/.lint
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

clean:
	rm -rf $(VENV) out build dist

$(VENV)/.made:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
		|| { echo "welkinwell needs Python 3.11 or newer: make run PYTHON=python3.11"; exit 1; }
	@$(PYTHON) -m venv $(VENV) \
		|| { rm -rf $(VENV); echo "Python's venv module is missing: apt-get install python3-venv"; exit 1; }
	touch $@

$(VENV)/.core: $(VENV)/.made pyproject.toml constraints.txt
	$(INSTALL) --editable .
	touch $@

$(VENV)/.test: $(VENV)/.core
	$(INSTALL) --editable '.[test,bench]'
	touch $@

$(VENV)/.lint: $(VENV)/.core
	$(INSTALL) --editable '.[lint]'
	touch $@

$(VENV)/.bench: $(VENV)/.core
	$(INSTALL) --editable '.[bench]'
	touch $@
