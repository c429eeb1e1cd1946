# Everything a person or a machine does with this project. `make help` lists it.
# The first that runs and is new enough; a name on the path may be a stand-in that does not.
PYTHON ?= $(shell for name in python3.11 python3.12 python3.13 python3.14 python3; do \
	$$name -c "import sys, venv; sys.exit(sys.version_info < (3, 11))" 2>/dev/null && echo $$name && break; done)
PORT ?= 8000
BIN := .venv/bin
# No cache in the home folder: `make run` touches nothing outside the checkout.
PIP := $(BIN)/python -m pip install --quiet --disable-pip-version-check --no-cache-dir
ARGS ?=

.PHONY: help run test check lint types test-sqlite test-postgres machine format clean

help:
	@echo "make run     set up, load the demo, serve it on port $(PORT)"
	@echo "make test    set up, check and test everything"
	@echo "make check   lint, types, migrations, deployment settings"
	@echo "make test-sqlite ARGS=tests/unit     a part of the tests (also: test-postgres)"
	@echo "make format  put the code into its form"
	@echo "make clean   remove the environment and the demo's data"

run: .venv/run.stamp
	DEMO=1 $(BIN)/python manage.py serve --demo --port $(PORT)

# Everything on the embedded default, then all that touches the database again on PostgreSQL; ends with what was not run.
test: check machine
	@$(BIN)/python -m tests.support.run all $(ARGS)

check: lint types .venv/test.stamp
	DEMO=1 VAR_DIR=var/check $(BIN)/python manage.py makemigrations --check --dry-run
	SECRET_KEY=$$($(BIN)/python -c "import secrets; print(secrets.token_urlsafe(60))") \
	SITE_URL=https://shop.example ALLOWED_HOSTS=shop.example MAIL_FROM=desk@shop.example VAR_DIR=var/check \
	DATABASE_URL=postgresql://nobody@localhost/none REDIS_URL=redis://localhost EMAIL_URL=smtp://localhost \
	$(BIN)/python -W ignore manage.py check --deploy --fail-level WARNING

lint: .venv/test.stamp
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: .venv/test.stamp .mypy_cache/models.stamp
	DEMO=1 VAR_DIR=var/check $(BIN)/mypy jobs estimates updates shopfloor manage.py

# A relation gives the model at its other end an attribute that mypy's cache does not hear of: new models, new cache.
.mypy_cache/models.stamp: Makefile */models.py */models */models/*.py
	@rm -rf .mypy_cache
	@mkdir .mypy_cache && touch $@

format: .venv/test.stamp
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

test-sqlite: .venv/test.stamp
	$(BIN)/python -m tests.support.run sqlite $(ARGS)

test-postgres: .venv/test.stamp
	$(BIN)/python -m tests.support.run postgres $(ARGS)

# What the tests need of the machine itself. Installed where the user may, else the test run says what is missing.
machine: .venv/test.stamp
	@sh tests/support/machine.sh $(BIN)/python

.venv/run.stamp: requirements.txt
	@test -n "$(PYTHON)" || { echo "Python 3.11 or newer is needed: make run PYTHON=/path/to/python3.11"; exit 1; }
	test -x $(BIN)/python || $(PYTHON) -m venv .venv
	$(PIP) -r requirements.txt
	@touch $@

.venv/test.stamp: .venv/run.stamp tests/requirements.txt
	$(PIP) -r tests/requirements.txt
	@touch $@

clean:
	rm -rf .venv var .mypy_cache .ruff_cache .pytest_cache .hypothesis
