# Everything here needs Python 3.11 or newer, git and make; the rest is fetched once into .venv by pip.
#
#   make demo    lint the example plans, fill one, mend one, play a start, print a cut list,
#                write all papers of one plan into build/, and ask one rule why
#   make test    every check that a change must pass
#   make proof   the checks that take longer: many more generated plans and numbers
#   make bench   measure

PYTHON ?= python3
BIN := .venv/bin

.PHONY: demo test lint types layers tests proof bench clean

# Each plan with the exit code it must end in: the ferry cabin and the draft are faulty on purpose.
PLANS := lantern-room:0 gorse-hill:0 reed-marsh:0 otter-weir:0 ferry-cabin:1 tidepool-draft:1

demo: .venv/made
	@for pair in $(PLANS); do \
	  plan=inventories/$${pair%:*}.toml; \
	  printf '$$ coldcheck lint %s\n' "$$plan"; \
	  $(BIN)/coldcheck lint "$$plan"; code=$$?; \
	  printf '(exit code %s)\n\n' "$$code"; \
	  [ "$$code" -eq "$${pair#*:}" ] || exit 1; \
	done
	@printf '$$ coldcheck fill inventories/sundial-court.toml\n'
	@$(BIN)/coldcheck fill inventories/sundial-court.toml; [ $$? -eq 1 ]
	@printf '\n$$ coldcheck mend inventories/tidepool-draft.toml\n'
	@$(BIN)/coldcheck mend inventories/tidepool-draft.toml; [ $$? -eq 1 ]
	@printf '\n$$ coldcheck choose inventories/gorse-hill.toml disks\n'
	@$(BIN)/coldcheck choose inventories/gorse-hill.toml disks
	@printf '\n$$ coldcheck rehearse inventories/ferry-cabin.toml\n'
	@$(BIN)/coldcheck rehearse inventories/ferry-cabin.toml
	@printf '\n$$ coldcheck sheets inventories/otter-weir.toml --sheet cuts --sheet shopping\n'
	@$(BIN)/coldcheck sheets inventories/otter-weir.toml --sheet cuts --sheet shopping
	@printf '\n$$ coldcheck sheets inventories/gorse-hill.toml --into build/gorse-hill\n'
	@mkdir -p build
	@$(BIN)/coldcheck sheets inventories/gorse-hill.toml --into build/gorse-hill
	@printf '\n$$ coldcheck why rails.overload\n'
	@$(BIN)/coldcheck why rails.overload

test: lint types layers tests

lint: .venv/made-dev
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: .venv/made-dev
	$(BIN)/mypy --strict

layers: .venv/made-dev
	$(BIN)/lint-imports --no-logo

tests: .venv/made-dev
	$(BIN)/python -m pytest -n 2 --dist loadgroup -m "not proof"

proof: .venv/made-dev
	HYPOTHESIS_PROFILE=proof $(BIN)/python -m pytest -n 2 --dist loadgroup -m "hypothesis or proof"

bench: .venv/made-dev
	$(BIN)/python -m benchmarks

clean:
	rm -rf .venv build dist

# The environment is made once, and again when pyproject.toml changes: an empty file says that it was done.
.venv/bin/python:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' \
	  || { echo "Coldcheck needs Python 3.11 or newer; name one by PYTHON=..." >&2; exit 1; }
	$(PYTHON) -m venv .venv
	$@ -m pip install --quiet --upgrade "pip>=25.1"

.venv/made: .venv/bin/python pyproject.toml
	$< -m pip install --quiet --editable ".[fill]"
	@touch $@

.venv/made-dev: .venv/bin/python pyproject.toml
	$< -m pip install --quiet --editable . --group dev
	@touch .venv/made $@
