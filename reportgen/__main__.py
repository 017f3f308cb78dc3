"""`python -m reportgen`, where the command itself is not on the path."""

from __future__ import annotations

from reportgen.cli.main import run

if __name__ == "__main__":
    run()
