"""What is wrong with a catalogue is told, with what to do, and never raises."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from stash.fit.health import LEVELS, findings
from tests.fit.reading import Given
from tests.fit.small_worlds import catalogues

CASES = tomllib.loads((Path(__file__).parent / "health.toml").read_text(encoding="utf-8"))["case"]


@pytest.mark.parametrize("case", CASES, ids=[case["idea"] for case in CASES])
def test_a_catalogue_is_looked_over_as_written(case):
    found = findings(Given(case["tables"]).catalogue)
    assert [[each.level, each.table, each.key] for each in found] == [row[:3] for row in case["finds"]]
    for each, row in zip(found, case["finds"], strict=True):
        assert row[3] in each.text
        assert each.do.endswith(".")


@settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))
@given(catalogues())
def test_every_catalogue_can_be_looked_over(catalogue):
    found = findings(catalogue)
    assert all(each.level in LEVELS and each.key and each.text and each.do for each in found)
    assert len(found) == len(set(found))
