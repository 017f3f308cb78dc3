"""The one command that checks everything: format, lint, types, tests. Run from anywhere: python tests/checks.py"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parent.parent
# Two workers: the slowest tests each drive a program of their own (an office suite, a browser).
CHECKS = (
    ("format", ["-m", "ruff", "format", "--check", "."]),
    ("lint", ["-m", "ruff", "check", "."]),
    ("types", ["-m", "mypy"]),
    ("tests", ["-m", "pytest", "-q", "-n", "2", "--dist", "loadfile"]),
)


def main() -> int:
    failed = []
    for name, arguments in CHECKS:
        print(f"== {name}", flush=True)
        if subprocess.run([sys.executable, *arguments], cwd=REPOSITORY, check=False).returncode:
            failed.append(name)
    if failed:
        print(f"failed: {', '.join(failed)}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
