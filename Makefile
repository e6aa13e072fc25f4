# make run   sets everything up and serves the shop
# make test  sets everything up and runs every check and test
# The rest are parts of these.

SHELL := /bin/bash
PYTHON ?= $(shell command -v python3.11 || command -v python3)
VENV := .venv
BIN := $(VENV)/bin
HOST ?= 127.0.0.1
PORT ?= 8000
WORKERS ?= 2
export SHOP_DATA ?= var

.PHONY: run test lint types contracts django-checks test-sqlite test-postgres checks format lock system-run system-test clean

run: $(VENV)/.run system-run
	@$(BIN)/python manage.py migrate --verbosity 0
	@$(BIN)/python manage.py demo --if-empty
	@$(BIN)/python manage.py collectstatic --noinput --verbosity 0
	@HOST=$(HOST) PORT=$(PORT) WORKERS=$(WORKERS) bash .ci/serve

test: $(VENV)/.dev system-test
	@$(MAKE) --no-print-directory lint types contracts django-checks checks test-sqlite test-postgres

# The environment is made anew when it is missing or broken, and brought up to date when a lock file changed.
$(VENV)/.python:
	@bash .ci/environment "$(PYTHON)" "$(VENV)"

$(VENV)/.run: $(VENV)/.python requirements.lock
	@test -e $(VENV)/.dev || $(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	@touch $@

$(VENV)/.dev: $(VENV)/.python requirements-dev.lock
	@$(BIN)/pip install --quiet --disable-pip-version-check --require-hashes -r requirements-dev.lock
	@touch $@ $(VENV)/.run

system-run:
	@bash .ci/system printing

system-test:
	@bash .ci/system printing postgres browser

lint: $(VENV)/.dev
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .

types: $(VENV)/.dev
	@$(BIN)/mypy shopfloor quality routing tests

contracts: $(VENV)/.dev
	@$(BIN)/lint-imports --no-logo 2>/dev/null || $(BIN)/lint-imports

django-checks: $(VENV)/.dev
	@$(BIN)/python manage.py makemigrations --check --dry-run
	@$(BIN)/python manage.py check

checks: $(VENV)/.dev
	@$(BIN)/python -m tests.published.checks

test-sqlite: $(VENV)/.dev
	@$(BIN)/python -m pytest -n 2 --dist loadfile

test-postgres: $(VENV)/.dev
	@SHOP_TEST_DB=postgres $(BIN)/python -m pytest -n 2 --dist loadfile

format: $(VENV)/.dev
	@$(BIN)/ruff check --fix .
	@$(BIN)/ruff format .

# Records no address: names, versions and hashes only.
lock: $(VENV)/.dev
	@$(BIN)/uv pip compile --quiet --universal --generate-hashes --no-emit-index-url --no-header --python-version 3.11 \
		pyproject.toml -o requirements.lock
	@$(BIN)/uv pip compile --quiet --universal --generate-hashes --no-emit-index-url --no-header --python-version 3.11 \
		--extra dev -c requirements.lock pyproject.toml -o requirements-dev.lock

clean:
	@rm -rf $(VENV) .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache
