"""A small invented shelf that the tests of identification share."""

from types import SimpleNamespace

import pytest

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Design, Kind, Measure
from stash.fit.intervals import interval

MM = 1_000_000


def mm(value, minus=0.0, plus=0.0):
    return interval(round(value * MM), round(minus * MM), round(plus * MM))


def kind_of(measures, designs, *, critical=False, kind="part"):
    """One kind: ``measures`` are rows without the kind, ``designs`` is ``{key: values}``."""
    return Catalogue(
        kinds=(Kind(kind, kind, safety_critical=critical),),
        measures=tuple(Measure(kind, *row) for row in measures),
        designs=tuple(Design(key, kind, values=values) for key, values in designs.items()),
    )


@pytest.fixture
def shelf():
    return SimpleNamespace(
        mm=mm,
        kind_of=kind_of,
        skirt=("skirt_mm", "skirt", "number", "mm", (), 30_000, "smaller", 15.0),
        height=("height_mm", "height", "number", "mm", (), 30_000, "none", 20.0),
        window=("window", "window", "yes_no", "", (), None, "", 3.0),
        teeth=("teeth_n", "teeth", "number", "", (), 200_000, "none", 10.0),
        form=("form", "form", "choice", "", ("round", "square"), None, "", 5.0),
    )
