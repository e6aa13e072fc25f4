# make run    sets everything up and serves the shop      PORT=8080  HOST=0.0.0.0  SHOP_DATA=/somewhere  EMPTY=1
# make test   sets everything up and runs every check and test
# make bench  measures, apart from the tests                 SCALE=0.1
# make audit  asks an index which locked packages have known weaknesses; needs a network, no part of make test
# make faults kills the server, the database, fills a disk   KILLS=50
# The rest are parts of these, or tools for developers: see DEVELOPERS.md.

SHELL := /bin/bash
BIN := .venv/bin
HOST ?= 127.0.0.1
PORT ?= 8000
# A tablet keeps to the worker that its connection came to: of two, one soon has more to do than a core can, while the
# other waits; measured with fifty tablets, of four none does.
WORKERS ?= 4
PROCESSES ?= 2
export HOST PORT WORKERS
export SHOP_DATA ?= var
PYTEST := $(BIN)/python -m pytest -n $(PROCESSES) --dist loadfile

.NOTPARALLEL:
.PHONY: run test environment-run environment-dev system-run system-test lint types contracts django-checks checks \
	test-sqlite test-postgres bench faults audit format messages lock clean

run: environment-run system-run
	@bash .ci/serve check
	@$(BIN)/python manage.py migrate --verbosity 0
	@$(BIN)/python manage.py collectstatic --noinput --verbosity 0
	@$(if $(filter 1,$(EMPTY)),true,$(BIN)/python manage.py demo --if-empty)
	@bash .ci/serve

test: environment-dev system-test lint types contracts django-checks checks test-sqlite test-postgres

# PYTHON=python3.12 chooses another Python; without it the first one that is recent enough.
environment-run:
	@bash .ci/environment run $(PYTHON)

environment-dev:
	@bash .ci/environment dev $(PYTHON)

system-run: environment-run
	@bash .ci/system printing

system-test:
	@bash .ci/system printing postgres browser

lint: environment-dev
	@echo "── lint"
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/djlint --lint --quiet templates

types: environment-dev
	@echo "── types"
	@$(BIN)/mypy

contracts: environment-dev
	@echo "── import contracts"
	@$(BIN)/lint-imports --no-logo

# The second check is that of a shop behind a TLS proxy, where nothing may be left open.
django-checks: environment-dev
	@echo "── Django's checks"
	@$(BIN)/python manage.py makemigrations --check --dry-run
	@$(BIN)/python manage.py check --fail-level WARNING
	@SHOP_HTTPS=1 $(BIN)/python manage.py check --deploy --fail-level WARNING

checks: environment-dev
	@echo "── published values"
	@$(BIN)/python -m tests.published.checks
	@echo "── pictures of the guide"
	@$(BIN)/python -m tests.guide_pictures

test-sqlite: environment-dev
	@echo "── tests on SQLite"
	@SHOP_TEST_DB=sqlite $(PYTEST)

test-postgres: environment-dev
	@echo "── tests on PostgreSQL"
	@SHOP_TEST_DB=postgres $(PYTEST)

SCALE ?= 1
bench: environment-dev system-test
	@$(BIN)/python -m tests.bench --scale $(SCALE) $(if $(filter 1,$(SCALE)),--write docs/benchmarks.md)

KILLS ?= 50
faults: environment-dev system-test
	@$(BIN)/python -m tests.faults --kills $(KILLS)

audit: environment-dev
	@bash .ci/audit

format: environment-dev
	@$(BIN)/ruff check --fix .
	@$(BIN)/ruff format .

# Needs GNU gettext (apt-get install gettext), which nothing else does: what it makes is kept beside the program.
LANGUAGES := de es
messages: environment-dev
	@$(BIN)/python manage.py makemessages $(LANGUAGES:%=-l %) --no-location --no-obsolete --no-wrap \
		--ignore 'tests/*' --ignore 'var/*' --ignore '.*'
	@$(BIN)/python manage.py compilemessages --ignore '.*' --ignore var

# Records no address: names, versions and hashes only. UPGRADE=1 takes the newest versions that fit.
COMPILE = $(BIN)/uv pip compile --quiet --universal --generate-hashes --no-emit-index-url --no-header \
	--python-version 3.11 $(if $(UPGRADE),--upgrade)
lock: environment-dev
	@$(COMPILE) pyproject.toml -o requirements.lock
	@$(COMPILE) --extra dev -c requirements.lock pyproject.toml -o requirements-dev.lock

clean:
	@rm -rf .venv .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache test-results
	@find . -name __pycache__ -type d -not -path './.git/*' -prune -exec rm -rf {} +
