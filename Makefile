# Everything a fresh clone needs is behind `make demo` and `make test`; nothing else has to be installed first.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
# seconds for `make torture`; each command gets its share
TORTURE_S ?= 14400
PIP := $(BIN)/python -m pip --disable-pip-version-check --quiet

MODELS = $(CURDIR)/models

.PHONY: torture wheel try-wheel demo test check bench install install-dev models lock clean

demo: models  ## the whole job on the invented service in demo_media
	$(BIN)/cowlnote demo

test: install-dev models  ## every test; those that need a browser or a server say so when they are skipped
	$(BIN)/python -m pytest

wheel: install  ## the file to install elsewhere, in dist/
	rm -rf dist
	$(BIN)/python -m hatchling build -t wheel

try-wheel: wheel models  ## the demo from the built file, in a fresh environment outside the checkout
	set -e; place=$$(mktemp -d); trap 'rm -rf $$place' EXIT; \
	$(PYTHON) -m venv $$place/venv; \
	$$place/venv/bin/python -m pip --disable-pip-version-check --quiet install --require-hashes -r locks/run.txt; \
	$$place/venv/bin/python -m pip --disable-pip-version-check --quiet install --no-deps dist/cowlnote-*.whl; \
	cd $$place; COWLNOTE_MODELS=$(MODELS) COWLNOTE_HOME=$$place/home $$place/venv/bin/cowlnote demo

check: install-dev  ## style, types, house rules
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

torture: install-dev  ## a fault at the system calls of whole commands, and power cuts (Linux, strace); hostile files and requests
	$(BIN)/python -m tests.whole.torture $(TORTURE_S)
	COWLNOTE_FUZZ=5000 COWLNOTE_POISON=10 $(BIN)/python -m pytest -q tests/desk/page/test_requests.py tests/whole/test_poison.py
	$(BIN)/python -m tests.laws.tamper

bench: install-dev models  ## figures of this machine; with SET=DIR also those of a set of notes
	for b in intake page search; do echo "== $$b"; $(BIN)/python benchmarks/$$b.py || exit 1; done
	for b in $(if $(SET),text speech); do $(BIN)/python benchmarks/$$b.py --set $(SET) || exit 1; done

models: install
	$(BIN)/cowlnote models get

install: $(VENV)/installed
install-dev: $(VENV)/installed-dev

$(VENV)/bin/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
	  || { echo "cowlnote needs Python 3.11 or newer; name it with: make PYTHON=python3.12 demo" >&2; exit 1; }
	$(PYTHON) -m venv $(VENV) || { echo "Python cannot make a virtual environment here; install its venv package (Debian: python3-venv)" >&2; exit 1; }

$(VENV)/installed: $(VENV)/bin/python locks/run.txt pyproject.toml
	$(PIP) install --require-hashes -r locks/run.txt
	$(PIP) install --no-deps --no-build-isolation -e .
	@touch $@

$(VENV)/installed-dev: $(VENV)/installed locks/dev.txt
	$(PIP) install --require-hashes -r locks/dev.txt
	@touch $@

lock:  ## renew the pinned versions
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header \
	  --extra build pyproject.toml -o locks/run.txt
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header \
	  --all-extras -c locks/run.txt pyproject.toml -o locks/dev.txt

clean:
	rm -rf $(VENV) build dist .pytest_cache .mypy_cache .ruff_cache .hypothesis
