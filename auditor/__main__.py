"""Runs the command line: ``python -m auditor``."""

from auditor.cli import main

if __name__ == "__main__":
    main()
