# One command each. All paths are relative, so that a checkout in a folder with a space in its
# name works; a stamp file keeps re-runs quick.
PYTHON ?= python3
BIN = .venv/bin
PIP = $(BIN)/python -m pip --disable-pip-version-check --quiet

.PHONY: mqtt budget pictures screen-budget screen-soak demo test check install install-test picture captures score score-faults healthy reference speed fast find-benchmark
.PHONY: seeded slow faults soak clean help score-links commission-runs fuzz fuzz-atheris

help:
	@echo 'make demo      open the dashboard on a capture that comes with it'
	@echo 'make test      everything that must hold: check, then the quick suites'
	@echo 'make check     lint, format, types, direction of imports'
	@echo 'make score     the engine against known truth (some minutes)'
	@echo 'make score-faults  each fault capture: found as what, how late, what else cried'
	@echo 'make reference remake the frozen references and fail on drift (heavy libraries)'
	@echo 'make healthy   a month of coaches in which nothing is wrong: what is cried'
	@echo 'make commission-runs  simulated installs of eight kinds proved, each sound and with each defect'
	@echo 'make commission-wire  the same over Modbus TCP, and what each report names (six minutes)'
	@echo 'make speed     readings a second, split by room'
	@echo 'make fast      compile a copy of the engine (needs a C compiler; nothing needs it)'
	@echo 'make score-links  links that fail, one by one: what is seen, how soon it is back'
	@echo 'make fuzz      ten million bytes into every parser; fuzz-atheris: guided by coverage'
	@echo 'make find-benchmark  how many meter readings it takes to find a register'
	@echo 'make seeded    seeded mistakes that the quick suite must catch'
	@echo 'make faults    kills, power cuts, torn files, full disks, clocks that lie: what is lost'
	@echo 'make soak      a simulated year of recording: memory, files, bytes'
	@echo 'make mqtt      publishing against a real broker (needs mosquitto)'
	@echo 'make budget    what the service and an attached screen cost'
	@echo 'make slow      everything that is marked slow'
	@echo 'make picture   remake the picture of the screen in the README'
	@echo 'make pictures  every screen in every size and theme, to be looked at, in build/pictures'
	@echo 'make screen-budget  bytes a second, share of a core and first frame of every screen'
	@echo 'make screen-soak  a day at 60x and ten days faster on a screen in use: memory, files (an hour)'
	@echo 'make captures  remake the demonstration captures'
	@echo 'make clean     remove what these commands made'

demo: .venv/installed
	@$(BIN)/ampwright demo

# Three at a time, for two cores: a quarter of the time is spent waiting. What waits for wires, with
# time limits of a tenth of a second, runs behind them, so that a busy machine is no failure.
WAITING = tests/adapters/test_modbus.py tests/adapters/test_modbus_line.py \
	tests/adapters/sunspec/test_device.py tests/adapters/sunspec/test_faults.py \
	tests/adapters/test_serial_lines.py tests/adapters/rvc/test_device.py tests/adapters/faulty
test: .venv/installed-test check
	$(BIN)/python -m pytest -m 'not slow' -n 3 --dist worksteal --ignore-glob='*test_wire_to_screen*' \
		$(addprefix --ignore=,$(WAITING))
	$(BIN)/python -m pytest -m 'not slow' -n 2 --dist loadfile $(WAITING)
	$(BIN)/python -m pytest -m 'not slow' tests/test_wire_to_screen*.py

check: .venv/installed-test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

picture: .venv/installed
	$(BIN)/python -m monitor.dashboard.picture monitor/dashboard/pictures/now.svg

pictures: .venv/installed
	$(BIN)/python -m monitor.dashboard.contact_sheet build/pictures

screen-budget: .venv/installed-test
	$(BIN)/python -m tests.monitor.dashboard.screen_budget

screen-soak: .venv/installed-test
	$(BIN)/python -m tests.monitor.dashboard.screen_soak

score: .venv/installed-test
	$(BIN)/python -m tests.reference.score

score-faults: .venv/installed-test
	$(BIN)/python -m tests.reference.score_faults

healthy: .venv/installed-test
	$(BIN)/python -m tests.reference.healthy

commission-runs: .venv/installed-test
	$(BIN)/python -m tests.monitor.commission.runs --seeds 3

.PHONY: commission-wire
commission-wire: .venv/installed-test
	$(BIN)/python -m tests.monitor.commission.on_the_wire

speed: .venv/installed-test
	$(BIN)/python -m tests.reference.speed

# A copy beside the environment, never in place of the plain files. Its build wants setuptools,
# which newer Pythons no longer put into an environment.
fast: .venv/installed-test
	@$(PIP) install --constraint constraints.txt mypy setuptools
	$(BIN)/python -m tests.reference.fast

score-links: .venv/installed-test
	$(BIN)/python -m tests.adapters.faulty.score

fuzz: .venv/installed-test
	$(BIN)/python -m tests.adapters.fuzz.run

# An environment of its own: the guided fuzzer is built for few Pythons and needed by nothing else.
.venv-fuzz/installed: pyproject.toml constraints.txt
	@$(PYTHON) -m venv .venv-fuzz
	@.venv-fuzz/bin/python -m pip --disable-pip-version-check --quiet install --constraint constraints.txt --editable '.[test]' atheris==3.0.0 || { \
	  echo 'ampwright: atheris cannot be installed for this Python (it has wheels for few); make fuzz needs none' >&2; exit 2; }
	@touch $@

fuzz-atheris: .venv-fuzz/installed
	.venv-fuzz/bin/python -m tests.adapters.fuzz.guided

find-benchmark: .venv/installed-test
	$(BIN)/python -m tests.reference.find_benchmark

seeded: .venv/installed-test
	$(BIN)/python -m tests.seeded.run

# The disks and power cuts want root; what cannot be made here is said in the table.
faults: .venv/installed-test
	$(BIN)/python -m tests.faults

soak: .venv/installed-test
	$(BIN)/python -m tests.faults.soak

mqtt: .venv/installed-test
	$(BIN)/python -m pytest -m slow tests/mqtt

budget: .venv/installed-test
	$(BIN)/python -m tests.budget.measure

slow: .venv/installed-test
	$(BIN)/python -m pytest -m slow

# An environment of its own: what remakes the references is far heavier than what checks them.
.venv-reference/installed: .venv/made tests/reference/requirements.txt
	@$(PYTHON) -m venv .venv-reference
	@.venv-reference/bin/python -m pip --disable-pip-version-check --quiet install --requirement tests/reference/requirements.txt
	@touch $@

reference: .venv-reference/installed
	.venv-reference/bin/python -m tests.reference.remake

captures: .venv/installed
	$(BIN)/python -m replay.coach.make_captures replay/captures

install: .venv/installed
install-test: .venv/installed-test

.venv/made:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
	  echo "ampwright: Python 3.11 or newer is needed; $(PYTHON) is older. Try: make PYTHON=python3.12 ..." >&2; exit 2; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || { \
	  echo "ampwright: this Python has no venv module. Install the package python$$($(PYTHON) -c 'import sys; print("%d.%d" % sys.version_info[:2])')-venv (Debian and Ubuntu), then run this again." >&2; exit 2; }
	@$(PYTHON) -m venv .venv
	@touch $@

.venv/installed: .venv/made pyproject.toml constraints.txt
	@echo 'installing into .venv (once) ...'
	@$(PIP) install --constraint constraints.txt --editable .
	@touch $@

.venv/installed-test: .venv/made pyproject.toml constraints.txt
	@echo 'installing what the tests need into .venv (once) ...'
	@$(PIP) install --constraint constraints.txt --editable '.[test]'
	@touch $@ .venv/installed

clean:
	rm -rf .venv .venv-reference .venv-fuzz .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache dist build
