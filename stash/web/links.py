"""Where things are shown."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from flask import Flask, url_for

_PAGES = {
    "place": ("places.page", "code"),
    "machine": ("machines.page", "code"),
    "lot": ("lots.page", "code"),
    "design": ("designs.page", "key"),
    "model": ("models.page", "key"),
    "build": ("builds.page", "key"),
}


def address_of(type_: str, name: str) -> str:
    """Return the page of a thing.

    Args:
        type_: place, machine, lot, design, model, kind or build.
        name: Its code or key.
    """
    if type_ == "kind":
        return url_for("lots.index", kind=name)
    endpoint, parameter = _PAGES[type_]
    return address(endpoint, {parameter: name})


def address(endpoint: str, values: Mapping[str, object]) -> str:
    """Return the address of a page with values that are only known at run time."""
    given: dict[str, Any] = dict(values)
    return url_for(endpoint, **given)


def within(target: str, otherwise: str) -> str:
    """Return a path on this host, or another one where the target leads elsewhere."""
    safe = target.startswith("/") and not target.startswith(("//", "/\\")) and not any(c < " " for c in target)
    return target if safe else otherwise


def teach(app: Flask) -> None:
    """Give the templates the addresses."""
    app.jinja_env.globals.update(address_of=address_of)
