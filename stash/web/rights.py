"""Who may open what: one rule for every address, and the few that differ from it.

Whoever is signed in may look (GET); helpers and owners may change (any other method). A new page needs no entry here
unless it is for the owner alone, for a person's own account, or for everybody. ``tests/web/test_attack_roles.py`` walks
every address with every role.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection

OPEN = frozenset({"static", "access.sign_in", "shared.page", "shared.chart", "trust.page", "trust.certificate"})
"""Endpoints for everybody, signed in or not."""

OWN = frozenset({"access.sign_out", "accounts.own", "accounts.own_password", "accounts.leave_everywhere"})
"""Endpoints about oneself, for every role."""

OWNER = frozenset(
    {
        "accounts.index",
        "accounts.add",
        "accounts.page",
        "accounts.role",
        "accounts.password",
        "accounts.let_in",
        "accounts.out",
        "audit.index",
        "shares.index",
        "shares.make",
        "shares.revoke",
        "tables.archive",
    }
)
"""Endpoints for the owner alone: who may come in, what they did, and the archive, which holds that too."""

OWNER_FORMS = frozenset(
    {"tables.load", "home.begin", "catalogue.remove", "rules.withdraw", "mates.withdraw", "sharing.accept"}
)
"""Endpoints that everybody may look at and whose forms only the owner may send."""

FORM_PAGES = frozenset({"shelf.index", "shelf.page", "labels.index"})
"""Pages that are nothing but a form, though another endpoint takes it."""

WORTH_READING = frozenset({"labels.stocks", "catalogue.edit"})
"""Endpoints that take a form and tell something all the same to whoever may not send it."""

_LOOKING = frozenset({"GET", "HEAD", "OPTIONS"})


def allowed(endpoint: str | None, method: str, role: str) -> bool:
    """Tell whether a role may do this.

    Args:
        endpoint: The endpoint, None for an address that leads nowhere.
        method: The HTTP method.
        role: owner, helper or guest.
    """
    if role == "owner" or endpoint in OPEN or endpoint in OWN:
        return True
    if endpoint in OWNER:
        return False
    if method in _LOOKING:
        return True
    return role == "helper" and endpoint not in OWNER_FORMS


def in_vain(endpoint: str | None, methods: Collection[str], role: str) -> bool:
    """Tell whether a page is a form that a role may not send, so that nobody types what is then refused.

    Args:
        endpoint: The endpoint, None for an address that leads nowhere.
        methods: The HTTP methods its address takes.
        role: owner, helper or guest.
    """
    form = endpoint in FORM_PAGES or ("POST" in methods and endpoint not in WORTH_READING)
    return form and not allowed(endpoint, "POST", role)
