"""Looking the catalogue over: what contradicts itself, and what to do about it."""

from __future__ import annotations

from typing import Any

from stash.db.store import Store
from stash.fit.health import HealthFinding, findings


def health(store: Store) -> tuple[HealthFinding, ...]:
    """Return what is to be mended or found out in the catalogue, worst first."""
    return tuple(findings(store.catalogue()))


def health_dict(found: tuple[HealthFinding, ...]) -> dict[str, Any]:
    """Return the findings as plain data; ``ok`` when nothing contradicts itself."""
    return {"ok": not any(each.level == "wrong" for each in found), "findings": [_as_dict(each) for each in found]}


def _as_dict(found: HealthFinding) -> dict[str, str]:
    return {"level": found.level, "table": found.table, "key": found.key, "text": found.text, "do": found.do}
