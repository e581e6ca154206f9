"""A few people at once over HTTP for a moment: no error that is not a clear refusal, nothing lost, everything proven.

The same crowd, larger and for longer, is ``benchmarks/load.py``.
"""

import pytest

from benchmarks.load import crowd


@pytest.mark.parametrize("engine", ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def test_a_few_at_once_lose_nothing(make_url_of, engine):
    tally = crowd(make_url_of(engine), clients=5, seconds=2)
    assert tally.errors == []
    assert tally.reads_ms
    assert tally.writes_ms
