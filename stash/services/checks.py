"""Checking a machine or a build: findings, and the bench sums that changed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from stash.db.store import Store
from stash.errors import NotFound
from stash.fit.catalogue import Catalogue
from stash.fit.checks import CheckFinding, check_machine, planned_machine
from stash.fit.claims import part_of_lot
from stash.fit.facts import Fitted, Machine
from stash.kernel.codes import parse_code
from stash.plan.facts import Build, Stock
from stash.services import matched
from stash.services.engine_sums import engine_sums


@dataclass(frozen=True, slots=True)
class Check:
    """The result of a check.

    Args:
        ref: The machine's code or the build's key.
        findings: Worst first.
        sums: ``{sum: {"name", "unit", "now", "stock", "note", "danger"}}`` of the bench sums that differ from stock.
    """

    ref: str
    findings: tuple[CheckFinding, ...]
    sums: dict[str, dict[str, Any]]

    @property
    def ok(self) -> bool:
        """Nothing dangerous and nothing that doesn't go together."""
        return not any(finding.level in {"stop", "wrong"} for finding in self.findings)

    def as_dict(self) -> dict[str, Any]:
        """The result as plain data."""
        findings = [
            {
                "level": finding.level,
                "position": finding.position,
                "mate": finding.mate or None,
                "text": finding.text,
                "do": finding.do,
            }
            for finding in self.findings
        ]
        return {"ref": self.ref, "ok": self.ok, "findings": findings, "sums": self.sums}


def check(store: Store, ref: str) -> Check:
    """Check a machine as built, or a build as planned so far.

    Args:
        store: The database.
        ref: A machine's code or a build's key.

    Raises:
        NotFound: Neither goes by that name.
    """
    catalogue, stock = store.catalogue(), store.stock()
    machine = as_planned(catalogue, stock, ref)
    build = None if machine.code in stock.machines and parse_code(ref) == machine.code else stock.builds[ref.strip()]
    apart = matched.build_findings(store, build) if build else matched.findings(store, machine.code)
    findings = (*check_machine(catalogue, machine), *apart)
    return Check(ref, findings, engine_sums(catalogue, machine, stock.law_lines))


def as_planned(catalogue: Catalogue, stock: Stock, ref: str) -> Machine:
    """Return the machine a code names, or the machine a build would become."""
    code = parse_code(ref)
    if code is not None and code in stock.machines:
        return stock.machines[code]
    build = stock.builds.get(ref.strip())
    if build is None:
        raise NotFound(f"No machine or build goes by {ref!r}", "Give a machine's code or a build's key.")
    owner = stock.machines.get(build.machine)
    return planned_machine(catalogue, build.model, owner, _decided(catalogue, stock, build), build.key)


def _decided(catalogue: Catalogue, stock: Stock, build: Build) -> dict[str, Fitted]:
    parts: dict[str, Fitted] = {}
    for row in build.parts:
        lot = stock.lots.get(row.lot)
        if lot is not None:
            own = {key: value for key, value in part_of_lot(catalogue, lot).values.items() if key in lot.values}
            parts[row.position] = Fitted("present", row.design or lot.design, lot.condition, own)
        elif row.design:
            parts[row.position] = Fitted("present", row.design)
    return parts
