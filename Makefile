# `make demo` and `make test` are the two commands to know. Each sets everything up by itself on a machine that has
# nothing but make and Python 3.11 or later, and is quick the second time. Plain make 3.81 and sh, so that macOS can.

VENV := .venv
BIN := $(VENV)/bin
PY := $(BIN)/python
PIP := $(PY) -m pip --disable-pip-version-check --quiet install
WORKERS := auto
PYTHONS := python3 python3.13 python3.12 python3.11 python3.14 python \
           /opt/homebrew/bin/python3 /usr/local/bin/python3 /usr/bin/python3
ROOMS := stash/kernel stash/fit stash/plan stash/key stash/bench stash/ledger labels

# An environment that was made in another folder, or by a Python that is gone, is made anew.
MADE_IN := $(VENV)/made-in
STALE := $(shell if [ -d $(VENV) ] && { ! $(PY) -c '' 2>/dev/null || \
           { [ -f $(MADE_IN) ] && [ "`cat $(MADE_IN)`" != "$(CURDIR)" ]; }; }; then echo yes; fi)

.DEFAULT_GOAL := help
.PHONY: help demo test check lint types imports floors audit bench clean FORCE

help:
	@echo 'make demo    load the demo, say what its shelf can finish, and open it at an address'
	@echo 'make test    run the whole test suite'
	@echo 'make check   everything a change must pass: format, lint, types, import contracts, tests, coverage'
	@echo 'make audit   ask the advisory service of the package index about what comes along; needs the network'
	@echo 'make bench   measure a whole stash and one ten times as large, as ratios (ARGS=--quick for a tenth of both)'
	@echo 'make clean   remove what make made; your own data lies elsewhere and stays'

demo: $(VENV)/ready
	@$(BIN)/stash demo $(ARGS)

test: $(VENV)/ready-dev
	$(PY) -m pytest -n $(WORKERS) --dist loadgroup --cov --cov-report= $(ARGS)

check: lint types imports test floors

lint: $(VENV)/ready-dev
	$(PY) -m ruff format --check .
	$(PY) -m ruff check .

types: $(VENV)/ready-dev
	$(PY) -m mypy

imports: $(VENV)/ready-dev
	$(BIN)/lint-imports

# What the tests just run have reached: everything in the rooms that decide, and nearly everything elsewhere.
floors: test
	$(PY) -m coverage report --fail-under=95
	$(PY) -m coverage report --fail-under=100 --include="$(shell echo $(ROOMS:=/*) | tr ' ' ',')"

# What `check` knows without a network is in tests/house/test_dependencies.py. This asks for today's list, and fails where
# it can't be had: a package that was not looked up is not a package that is safe.
audit: $(VENV)/ready-dev
	@$(PIP) 'pip-audit>=2.7'
	@$(PY) -m pip freeze --exclude-editable --exclude bd_warehouse > $(VENV)/audited.txt
	$(PY) -m pip_audit --strict --no-deps --disable-pip --progress-spinner off --requirement $(VENV)/audited.txt \
	  || { echo 'Not clean, or not looked up: see above. Without a way to the advisory service nothing is proven.'; exit 1; }

bench: $(VENV)/ready-dev
	$(PY) benchmarks/whole_stash.py $(ARGS)

clean:
	rm -rf $(VENV) build dist .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis .coverage .coverage.*
	find . -name __pycache__ -type d -prune -exec rm -rf {} +

$(VENV)/ready: pyproject.toml $(if $(STALE),FORCE) | $(PY)
	@echo 'Installing stash and what it needs (a minute or two, the first time only) ...'
	@$(PIP) --editable .
	@touch $@

$(VENV)/ready-dev: pyproject.toml $(if $(STALE),FORCE) | $(PY)
	@echo 'Installing stash, what it needs and its test tools (a minute or two, the first time only) ...'
	@$(PIP) --editable '.[dev]'
	@$(PIP) --no-deps 'bd_warehouse>=0.4'  # a reference for tests; they read its tables only, not its drawing half
	@touch $@ $(VENV)/ready

# The first Python that is new enough and can make environments, tried by running it: a name on the path may be a shim.
$(PY): $(if $(STALE),FORCE)
	@found=; bare=; \
	for python in $(PYTHON) $(PYTHONS); do \
	  "$$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))' >/dev/null 2>&1 || continue; \
	  if "$$python" -c 'import ensurepip, venv' >/dev/null 2>&1; then found=$$python; break; fi; \
	  bare=$${bare:-$$python}; \
	done; \
	if [ "`id -u`" = 0 ]; then sudo=; else sudo='sudo '; fi; \
	if [ -z "$$found" ] && [ -n "$$bare" ]; then \
	  package=python`"$$bare" -c 'import sys; print("%d.%d" % sys.version_info[:2])'`-venv; \
	  echo "Your Python ($$bare) comes without its venv module. Run this, then make again:"; \
	  echo "  $${sudo}apt-get install -y $$package"; exit 1; \
	fi; \
	if [ -z "$$found" ]; then \
	  echo 'stash needs Python 3.11 or later, and none was found. Run this, then make again:'; \
	  if [ "`uname -s`" = Darwin ]; then echo '  brew install python@3.13'; \
	  else echo "  $${sudo}apt-get install -y python3 python3-venv"; fi; \
	  echo 'If Python is installed under another name: make PYTHON=/path/to/python'; exit 1; \
	fi; \
	echo "Making $(VENV) with $$found ..."; \
	"$$found" -m venv --clear $(VENV) && printf '%s\n' "$(CURDIR)" > $(MADE_IN)
