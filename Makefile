# Two commands are the whole set-up: make demo, make test.
.PHONY: demo test clean

.venv/ready: pyproject.toml .ci/constraints.txt
	python3 -m venv .venv
	.venv/bin/pip install --quiet --constraint .ci/constraints.txt --editable '.[dev]'
	touch $@

demo: .venv/ready
	@echo "--- from the mix alone, as most mock-ups come ---"
	.venv/bin/auditor audit test_audio/demo --mix-only -o demo-audit --force
	@echo "--- with the stems, which leave nothing to estimate ---"
	.venv/bin/auditor audit test_audio/demo -o demo-audit-stems --force

test: .venv/ready
	.venv/bin/ruff check .
	.venv/bin/ruff format --check .
	.venv/bin/mypy
	.venv/bin/lint-imports
	.venv/bin/pytest -q -n 2 --dist loadfile

clean:
	rm -rf .venv build dist demo-audit demo-audit-stems
