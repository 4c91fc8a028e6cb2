# What one types here. Everything runs in .venv, which scripts/bootstrap.py makes with plain venv and pip;
# uv is needed only by whoever makes the locks anew.

PYTHON ?= python3
UV ?= uv
BIN = .venv/bin
BOOTSTRAP = $(PYTHON) scripts/bootstrap.py
COMPILE = $(UV) pip compile pyproject.toml --quiet --universal --python-version 3.11 --generate-hashes \
	--no-emit-index-url --no-emit-find-links --custom-compile-command 'make lock' $(UPGRADE)

.PHONY: help demo serve test soak lint format bench lock clean

help:
	@echo "make demo    install what the tool needs (first time only) and walk through the demo job"
	@echo "make serve   the pages of your own jobs, for a browser on this machine"
	@echo "make test    install what the tests need (first time only) and run them all"
	@echo "make soak    the long tests: whole jobs driven through a browser, a lost network, a killed server"
	@echo "make lint    style, format and types: ruff and mypy"
	@echo "make format  put every file into the common format"
	@echo "make bench   the benchmarks, one after the other"
	@echo "make lock    resolve requirements*.lock anew (needs uv); UPGRADE=--upgrade takes newer versions"
	@echo "make clean   remove .venv and everything else that can be made again"
	@echo ""
	@echo "Another Python than python3: make demo PYTHON=python3.12"

demo:
	@$(BOOTSTRAP) demo
	@$(BIN)/evenpour demo

serve:
	@$(BOOTSTRAP) demo
	@$(BIN)/evenpour serve

test:
	@$(BOOTSTRAP) test
	@$(BIN)/pytest

soak:
	@$(BOOTSTRAP) test
	@$(BIN)/pytest soak

lint:
	@$(BOOTSTRAP) test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

format:
	@$(BOOTSTRAP) test
	$(BIN)/ruff format .

bench:
	@$(BOOTSTRAP) test
	@set -e; for file in benchmarks/*.py; do echo "== $$file"; $(BIN)/python "$$file"; done

# The second is held to the versions of the first, so that the tests run what the tool runs.
lock:
	$(COMPILE) --extra build --output-file requirements.lock
	$(COMPILE) --all-extras --constraints requirements.lock --output-file requirements-dev.lock

clean:
	rm -rf .venv build dist demo-out .pytest_cache .mypy_cache .ruff_cache .hypothesis
	find src tests scripts benchmarks -name __pycache__ -type d -prune -exec rm -rf {} +
