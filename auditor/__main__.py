"""Runs the command line: ``python -m auditor``."""

import sys


def main() -> None:
    """Run the command line; an interruption while it loads is told as any other."""
    try:
        from auditor.cli import main as run
    except KeyboardInterrupt:
        sys.stderr.write("auditor: stopped; nothing was written\n")
        raise SystemExit(130) from None
    run()


if __name__ == "__main__":
    main()
