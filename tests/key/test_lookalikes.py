"""Designs that only one measure, or nothing, tells apart."""

import pytest

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Design
from stash.key.lookalikes import LookAlike, look_alikes, mixed, telling_measure


@pytest.fixture
def pistons(shelf):
    def piston(key, skirt, pin, window, kind="piston"):
        return Design(
            key, kind, values={"skirt_mm": shelf.mm(skirt, 0.02, 0.0), "pin_mm": shelf.mm(pin), "window": window}
        )

    return Catalogue(
        designs=(
            piston("a", 37.95, 10, "no"),
            piston("b", 37.95, 12, "no"),
            piston("c", 37.96, 10, "no"),
            piston("d", 38.20, 12, "yes"),
            piston("e", 37.95, 12, "no", kind="spare"),
            Design("f", "piston"),
        )
    )


def test_look_alikes_differ_in_at_most_one_known_measure_and_it_is_named(pistons):
    assert look_alikes(pistons, "a") == (LookAlike("b", "pin_mm"), LookAlike("c", ""))
    assert look_alikes(pistons, "d") == ()


def test_a_design_of_which_nothing_is_known_is_nobodys_look_alike(pistons):
    assert look_alikes(pistons, "f") == ()


def test_the_telling_measure_is_the_one_that_parts_most_look_alikes(pistons):
    assert telling_measure(pistons, "a") == "pin_mm"
    assert telling_measure(pistons, "d") == ""


def test_a_bin_that_mixes_look_alikes_is_told_pair_by_pair(pistons):
    assert mixed(pistons, ["c", "a", "b", "a", "nobody"]) == (
        ("a", "b", "pin_mm"),
        ("a", "c", ""),
        ("b", "c", "pin_mm"),
    )
    assert mixed(pistons, ["b", "e", "d"]) == ()
