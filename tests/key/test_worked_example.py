"""The worked example: three look-alike pistons, a caliper and a glance.

Source: the shapes and their numbers follow from the model (normal error, exponential wear, slip floor); the expected
values were computed independently with ``scipy.stats.exponnorm`` and adaptive quadrature.
"""

from decimal import Decimal

import pytest

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Design, Kind, Measure
from stash.fit.intervals import interval
from stash.key.identify import identify
from stash.key.options import Options

MM = 1_000_000


def piston(key: str, skirt_um: int, pin_mm: int, height_mm: int, window: str) -> Design:
    values = {
        "skirt_mm": interval(skirt_um * 1000),
        "pin_bore_mm": interval(pin_mm * MM),
        "compression_height_mm": interval(height_mm * MM),
        "window": window,
    }
    return Design(key, "piston", f"piston {key}", values=values)


PISTONS = Catalogue(
    kinds=(Kind("piston", "piston"),),
    measures=(
        Measure("piston", "skirt_mm", "skirt diameter", "number", "mm", (), 20_000, "smaller", 15.0),
        Measure("piston", "pin_bore_mm", "pin bore", "number", "mm", (), 30_000, "larger", 20.0),
        Measure("piston", "compression_height_mm", "compression height", "number", "mm", (), 100_000, "none", 40.0),
        Measure("piston", "window", "window", "yes_no", effort_s=3.0),
    ),
    designs=(
        piston("A", 37950, 10, 22, "no"),
        piston("B", 37950, 12, 22, "yes"),
        piston("C", 37960, 12, 24, "no"),
    ),
)
OPTIONS = Options(
    tell_errors={"window": 0.03},
    wear_scales={"skirt_mm": 0.05, "pin_bore_mm": 0.02},
    ranges={"skirt_mm": (30, 60), "pin_bore_mm": (8, 18), "compression_height_mm": (15, 35)},
)
READINGS = {"skirt_mm": "37.89", "window": "yes", "pin_bore_mm": Decimal("12.03")}


def test_before_looking_each_piston_is_as_likely_and_none_of_these_is_a_twentieth():
    found = identify(PISTONS, "piston", {}, options=OPTIONS)
    assert [name for name, _ in found.ranking] == ["A", "B", "C"]
    assert [share for _, share in found.ranking] == pytest.approx([0.316667] * 3, abs=1e-6)
    assert found.none_of_these == pytest.approx(0.05)
    assert found.stop is None


def test_each_question_tells_as_much_as_computed_by_hand():
    asks = {ask.measure: ask.bits for ask in identify(PISTONS, "piston", {}, options=OPTIONS).questions}
    assert asks == pytest.approx(
        {"skirt_mm": 0.2531, "pin_bore_mm": 1.0887, "compression_height_mm": 1.0830, "window": 0.7004}, abs=5e-5
    )


def test_the_glance_at_the_window_is_asked_first_because_it_takes_three_seconds():
    found = identify(PISTONS, "piston", {}, options=OPTIONS)
    assert found.next is not None
    assert (found.next.measure, found.next.effort_s) == ("window", 3.0)
    assert found.questions[0] == found.next
    rates = [ask.bits_per_s for ask in found.questions]
    assert rates == sorted(rates, reverse=True)


def test_a_worn_skirt_a_window_and_a_pin_make_it_b():
    found = identify(PISTONS, "piston", READINGS, options=OPTIONS)
    shares = dict(found.ranking)
    assert shares == pytest.approx({"A": 0.0000, "B": 0.9752, "C": 0.0248}, abs=5e-5)
    assert (found.stop, found.next, found.ranking[0][0]) == ("clear", None, "B")
    assert found.said == "piston B, 97.5% sure."


def test_every_reading_is_weighed_in_words_for_every_design():
    why = identify(PISTONS, "piston", READINGS, options=OPTIONS).why
    said = {name: {each.measure: each.text for each in rows} for name, rows in why.items()}
    worn = "skirt diameter 37.89 mm is 0.06 mm below 37.95 mm: a worn skirt diameter of this, or another design"
    assert said["B"] == {
        "skirt_mm": worn,
        "pin_bore_mm": "pin bore 12.03 mm agrees with 12 mm",
        "window": "window: yes, as on record",
    }
    assert said["C"]["window"] == "window: yes, where no is on record: not this, or seen wrongly"
    assert said["A"]["pin_bore_mm"].startswith("pin bore 12.03 mm is 2.03 mm above 10 mm: more than wear usually takes")
    bits = {each.measure: each.bits for each in why["A"]}
    assert bits["skirt_mm"] is not None
    assert bits["skirt_mm"] > 0
    assert bits["pin_bore_mm"] is not None
    assert bits["pin_bore_mm"] < 0


def test_an_answered_question_is_not_asked_again():
    found = identify(PISTONS, "piston", {"window": "no"}, options=OPTIONS)
    assert "window" not in [ask.measure for ask in found.questions]
    assert found.next is not None
    assert found.next.measure == "pin_bore_mm"
