"""``python -m stash``: the command line, for where its script is not on the path."""

from __future__ import annotations

from stash.cli import main

if __name__ == "__main__":
    main(prog_name="stash")
