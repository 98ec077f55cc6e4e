# Two commands matter: `make run` and `make test`. Both need Python 3.11 or newer and nothing else.

SERVE ?= 1
PORT ?= 8000
# Tiers of the suite to run: sqlite, postgresql, browser; empty for all.
TIERS ?=

BIN := .venv/bin
PYTHON := $(BIN)/python
MANAGE := $(PYTHON) manage.py
# A stamp is named for the content it stands for, so that a second run installs nothing.
RUNTIME := .venv/.runtime-$(shell cat requirements.txt requirements/installer.txt | cksum | cut -d ' ' -f 1)
DEV := .venv/.dev-$(shell cat requirements-dev.txt requirements/installer.txt | cksum | cut -d ' ' -f 1)

.PHONY: help run test check format bench words lock clean
.DEFAULT_GOAL := help

help: ## say what can be made
	@grep -E '^[a-z]+:.*## ' Makefile | sed -E 's/:[^#]*## /\t/'

run: $(RUNTIME) ## set up, load the demo, do the main job, and serve at 127.0.0.1:8000 (SERVE=0: stop before serving)
	$(MANAGE) migrate --no-input --verbosity 0
	$(MANAGE) collectstatic --no-input --verbosity 0
	$(MANAGE) load_demo
	$(MANAGE) main_job --address http://127.0.0.1:$(PORT)/
ifneq ($(SERVE),0)
	$(MANAGE) demo_signins --address http://127.0.0.1:$(PORT)/
	@echo "Lehrbook is at http://127.0.0.1:$(PORT)/ (Ctrl-C ends it)"
	exec $(BIN)/gunicorn scheduling.project.wsgi:application --bind 127.0.0.1:$(PORT) \
		--workers 2 --threads 4 --no-control-socket
endif

test: check ## check, then run the suite on SQLite, on PostgreSQL and Redis, and in a browser
	$(PYTHON) -m tests.tiers $(TIERS)

check: $(DEV) ## formatting, lint, types, import contracts, missing migrations
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(MANAGE) makemigrations --check --dry-run

format: $(DEV) ## put the code into the house's format
	$(BIN)/ruff format .
	$(BIN)/ruff check --fix .

bench: $(DEV) ## measure the thermal model, searches, calendars and seats a second (docs/speed.md)
	$(PYTHON) -m tests.benchmarks.measure
	$(PYTHON) -m tests.benchmarks.seat_rate

words: $(DEV) ## bring the German catalogue up to what is marked, and say what lacks its German
	$(PYTHON) -m tests.languages

lock: $(DEV) ## pin what requirements/*.in name, with hashes
	$(call compile,runtime.in,requirements.txt,)
	$(call compile,dev.in,requirements-dev.txt,--constraints requirements.txt)
	$(call compile,installer.in,requirements/installer.txt,)

clean: ## forget the virtual environment and the embedded database
	rm -rf .venv var

define compile
$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header \
	requirements/$(1) $(3) --output-file $(2)
endef

# uv installs in seconds what takes pip a minute; where uv does not run, pip does it with the same hashes.
define install
$(BIN)/uv pip install --quiet --python $(PYTHON) --require-hashes --requirement $(1) 2>/dev/null \
	|| $(PYTHON) -m pip install --quiet --disable-pip-version-check --require-hashes --requirement $(1)
@rm -f $(2)-* && touch $@
endef

$(PYTHON):
	@found=; for candidate in python3 python3.11 python3.12 python3.13 python3.14; do \
		if $$candidate -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; \
		then found=$$candidate; break; fi; done; \
	if [ -z "$$found" ]; then echo "Lehrbook needs Python 3.11 or newer; none was found." >&2; exit 1; fi; \
	echo "Making .venv with $$($$found --version)"; \
	$$found -m venv --clear .venv || { rm -rf .venv; \
		echo "$$found could not make a virtual environment (on Debian: install python3-venv)." >&2; exit 1; }
	@$(PYTHON) -m pip install --quiet --disable-pip-version-check --require-hashes \
		--requirement requirements/installer.txt || echo "uv is not to be had; pip will do its work."

$(RUNTIME): | $(PYTHON)
	$(call install,requirements.txt,.venv/.runtime)

$(DEV): | $(PYTHON)
	$(call install,requirements-dev.txt,.venv/.dev)
