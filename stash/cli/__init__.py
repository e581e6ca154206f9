"""The command line: what was typed in, a service's answer out, as words for a person or JSON for a program.

One module per group of commands. The room holds no rules and no queries: every command calls one service, so that
screen and command cannot disagree. Modules import the services inside their functions, so that ``stash --help`` does
not wait for a database driver.

    group     the ``stash`` group and its order of commands
    edge      errors translated once, options every command shares
    show      plain tables that mind the width of the terminal
"""

from __future__ import annotations

from stash.cli.group import main

__all__ = ["main"]
