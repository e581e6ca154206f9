"""Saying a mate: read as it was typed, its effect looked at, and only then saved."""

from __future__ import annotations

from collections.abc import Mapping

from stash.db.snapshot import mate_fact
from stash.db.store import Store
from stash.errors import NotFound
from stash.fit.catalogue import Catalogue
from stash.fit.facts import Mate
from stash.fit.wording import EVIDENCE_WORDS, kind_name, measure_name
from stash.kernel.exact import decimal_text, from_micro
from stash.kernel.tables import TABLE_BY_NAME
from stash.services.effects import Effect
from stash.services.gaps import judge
from stash.services.mate_effect import mate_effect
from stash.services.new_rows import free_key
from stash.services.previews import Preview, checked_row, seal, wrong


def preview(store: Store, cells: Mapping[str, str], key: str = "") -> Preview:
    """Work out what a mate would change, and write nothing.

    Args:
        store: The database.
        cells: ``{column: cell text}``; an empty key is made of the name.
        key: The mate it changes; "" for a new one.

    Raises:
        InvalidInput: A cell is wrong; carries every problem.
        NotFound: The mate to change is not there.
    """
    catalogue = store.catalogue()
    full = {name: cells.get(name, "").strip() for name in TABLE_BY_NAME["mates"].names}
    full["key"] = full["key"] or key or free_key(full["name"], catalogue.mate)
    old = _standing(catalogue, key) if key else None
    if full["key"] != key and full["key"] in catalogue.mate:
        hint = "Another mate has it; leave it empty and one is made of the name."
        raise wrong("mates", "key", full["key"], "is taken", hint)
    new = mate_fact(checked_row(store, "mates", full))
    effect = _effect(store, old, new)
    return Preview("mates", full, (new.kind_a, new.kind_b), mate_sentence(catalogue, new), effect, seal(full, effect))


def preview_without(store: Store, key: str) -> Preview:
    """Work out what taking a mate away would change, and write nothing.

    Raises:
        NotFound: There is no such mate.
    """
    catalogue, cells = store.catalogue(), {"key": key}
    mate = _standing(catalogue, key)
    effect = _effect(store, mate, None)
    return Preview(
        "mates", cells, (mate.kind_a, mate.kind_b), mate_sentence(catalogue, mate), effect, seal(cells, effect)
    )


def mate_sentence(catalogue: Catalogue, mate: Mate) -> str:
    """Say a mate as a sentence, without a full stop."""
    one = _end(catalogue, mate.kind_a, mate.measure_a, mate.position_a)
    two = _end(catalogue, mate.kind_b, mate.measure_b, mate.position_b)
    known = catalogue.measure.get((mate.kind_b, mate.measure_b))
    unit = f" {known.unit}" if known and known.unit else ""
    low, high = (None if bound is None else decimal_text(from_micro(bound)) for bound in (mate.low_u, mate.high_u))
    if mate.relation == "gap":
        said = f"{two} less {one} is {_between(low, high)}{unit if low or high else ''}"
    elif low is None and high is None:
        said = f"{one} and {two} are the same"
    elif mate.low_u == -(mate.high_u or 0):
        said = f"{one} and {two} are the same within {high}{unit}"
    else:
        said = f"{one} and {two} are the same, {two} less {one} being {_between(low or '0', high or '0')}{unit}"
    evidence = EVIDENCE_WORDS.get(mate.evidence, "")
    source = ": ".join(text for text in (evidence, mate.source) if text)
    return f"{said} ({source})" if source else said


def _end(catalogue: Catalogue, kind: str, measure: str, position: str) -> str:
    at = f" at the {position}" if position else ""
    return f"the {measure_name(catalogue, kind, measure)} of the {kind_name(catalogue, kind)}{at}"


def _between(low: str | None, high: str | None) -> str:
    if low is not None and high is not None:
        return f"from {low} to {high}"
    if low is not None:
        return f"at least {low}"
    return f"at most {high}" if high is not None else "whatever it may be"


def _effect(store: Store, old: Mate | None, new: Mate | None) -> Effect:
    referee = judge(store)
    with referee.asking:
        return mate_effect(referee.table, referee, store.stock(), old, new)


def _standing(catalogue: Catalogue, key: str) -> Mate:
    mate = catalogue.mate.get(key)
    if mate is None:
        raise NotFound(f"No mate goes by {key!r}", "It may have been taken away in the meantime.")
    return mate
