"""What comes along with stash: only what is asked for, under licences that let it be passed on, nothing known unsafe.

This is the part of an audit that needs no network; ``make audit`` asks an advisory service as well.
"""

from __future__ import annotations

import re
import tomllib
from importlib.metadata import Distribution, PackageNotFoundError, distribution
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
ADVISORIES = tomllib.loads(Path(__file__).with_name("advisories.toml").read_text(encoding="utf-8"))["advisory"]
BORNE = re.compile(
    r"\b(MIT|BSD|0BSD|Apache|ISC|PSF|Python Software Foundation|MPL|LGPL|Zlib|HPND|Unlicense)", re.IGNORECASE
)
"""Licences under which a program of any licence may use a library. LGPL and MPL: as a library of its own, unchanged."""


def applies(requirement: Requirement) -> bool:
    return requirement.marker is None or requirement.marker.evaluate({"extra": ""})


def gathered() -> dict[str, Distribution]:
    """``{name: what is installed}`` of everything a user gets, gathered from what each says it needs."""
    found: dict[str, Distribution] = {}
    waiting = [Requirement(line) for line in PROJECT["dependencies"]]
    while waiting:
        requirement = waiting.pop()
        name = canonicalize_name(requirement.name)
        if not applies(requirement):
            continue
        try:
            one = found.setdefault(name, distribution(name))
        except PackageNotFoundError:
            pytest.fail(f"{requirement} is needed and not installed")
        assert requirement.specifier.contains(one.version, prereleases=True), (
            f"{requirement}, but {one.version} is here"
        )
        waiting += [
            needed
            for needed in map(Requirement, one.requires or ())
            if applies(needed) and canonicalize_name(needed.name) not in found
        ]
    return found


@pytest.fixture(scope="module")
def installed() -> dict[str, Distribution]:
    return gathered()


def licences(one: Distribution) -> str:
    """What a package says of its licence, in whichever field it does."""
    told = one.metadata
    classifiers = [each for each in told.get_all("Classifier") or () if each.startswith("License")]
    return "; ".join(filter(None, (told.get("License-Expression"), *classifiers, (told.get("License") or "")[:200])))


def test_everything_that_comes_along_may_be_passed_on(installed):
    assert {name: licences(one) for name, one in installed.items() if not BORNE.search(licences(one))} == {}


def test_nothing_that_comes_along_is_known_to_be_unsafe(installed):
    unsafe = [
        f"{each['name']} {installed[each['name']].version}: {each['what']}; take {each['below']} or later"
        for each in ADVISORIES
        if each["name"] in installed and Version(installed[each["name"]].version) < Version(each["below"])
    ]
    assert unsafe == []


def test_every_advisory_is_about_something_that_comes_along(installed):
    assert {each["name"] for each in ADVISORIES} <= set(installed)


def test_little_comes_along(installed):
    assert len(installed) < 60, sorted(installed)
