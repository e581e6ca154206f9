"""Saying a rule: read as it was typed, its effect looked at, and only then saved."""

from __future__ import annotations

import re
from collections.abc import Mapping

from stash.db.snapshot import rule_fact
from stash.db.store import Store
from stash.errors import NotFound, StashError
from stash.fit.facts import Rule
from stash.kernel.tables import TABLE_BY_NAME
from stash.services.effects import Effect
from stash.services.gaps import judge
from stash.services.parts import resolve_part
from stash.services.previews import Preview, checked_row, seal, wrong
from stash.services.rule_effect import rule_effect
from stash.services.rule_words import rule_sentence

_LONGEST_KEY = 72


def preview(store: Store, cells: Mapping[str, str], key: str = "") -> Preview:
    """Work out what a rule would change, and write nothing.

    Args:
        store: The database.
        cells: ``{column: cell text}``; a design may be given by its number, an empty key is drawn from the rest.
        key: The rule it changes; "" for a new one.

    Raises:
        InvalidInput: A cell is wrong; carries every problem.
        NotFound: The rule to change is not there.
    """
    catalogue = store.catalogue()
    full = _full(store, cells, key)
    old = _standing(store, key) if key else None
    if full["key"] != key and catalogue.rulebook.rule(full["key"]) is not None:
        raise wrong("rules", "key", full["key"], "is taken", "Another rule has it; leave it empty and one is found.")
    rule = rule_fact(checked_row(store, "rules", full))
    effect = _effect(store, old, rule)
    kinds = (catalogue.rulebook.kind_of(rule),)
    return Preview("rules", full, kinds, rule_sentence(catalogue, rule), effect, seal(full, effect))


def preview_without(store: Store, key: str) -> Preview:
    """Work out what taking a rule away would change, and write nothing.

    Raises:
        NotFound: There is no such rule.
    """
    rule = _standing(store, key)
    effect = _effect(store, rule, None)
    catalogue, cells = store.catalogue(), {"key": key}
    kinds = (catalogue.rulebook.kind_of(rule),)
    return Preview("rules", cells, kinds, rule_sentence(catalogue, rule), effect, seal(cells, effect))


def _effect(store: Store, old: Rule | None, new: Rule | None) -> Effect:
    referee = judge(store)
    with referee.asking:
        return rule_effect(referee.table, referee, store.stock(), old, new)


def _standing(store: Store, key: str) -> Rule:
    rule = store.catalogue().rulebook.rule(key)
    if rule is None:
        raise NotFound(f"No rule goes by {key!r}", "It may have been taken away in the meantime.")
    return rule


def _full(store: Store, cells: Mapping[str, str], key: str) -> dict[str, str]:
    full = {name: cells.get(name, "").strip() for name in TABLE_BY_NAME["rules"].names}
    catalogue = store.catalogue()
    if full["design"] and full["design"] not in catalogue.design:
        try:
            full["design"] = resolve_part(catalogue, store.stock(), full["design"]).design or full["design"]
        except StashError as error:
            raise wrong("rules", "design", full["design"], error.message, error.hint) from error
    full["key"] = full["key"] or key or _new_key(store, full)
    return full


def _new_key(store: Store, cells: Mapping[str, str]) -> str:
    """A key that tells what the rule is about, with a number where that is taken."""
    target = next((cells[name] for name in ("model", "generation", "family", "maker") if cells[name]), "")
    words = (cells["design"] or cells["kind"], "on", target)
    stem = "-".join(word for word in (re.sub(r"[^\w]+", "-", word).strip("-") for word in words) if word)
    stem = stem[:_LONGEST_KEY].strip("-") or "rule"
    taken = store.catalogue().rulebook
    numbers = range(2, len(store.catalogue().rules) + 3)
    return next(key for key in (stem, *(f"{stem}-{number}" for number in numbers)) if taken.rule(key) is None)
