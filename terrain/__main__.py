"""`python -m terrain` is the command line."""

from __future__ import annotations

from terrain.cli import main

if __name__ == "__main__":
    raise SystemExit(main())
