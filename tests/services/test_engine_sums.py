import pytest

from stash.services.checks import check
from stash.services.engine_sums import engine_sizes
from stash.services.machines import mark
from tests.services.workshop import PROJECT, RUNNER


def test_a_machine_as_stock_has_no_changed_sums(workshop):
    assert check(workshop, RUNNER).sums == {}


def test_a_module_above_the_rated_speed_is_a_danger_in_the_sums_too(workshop):
    mark(workshop, RUNNER, "module", "present", design="module-85", who="Ann")
    sums = check(workshop, RUNNER).sums
    assert sums["limit_rpm"]["danger"]
    assert sums["limit_rpm"]["now"] == 8500


def test_what_is_not_known_has_no_sum(workshop):
    mark(workshop, RUNNER, "module", "unknown", who="Ann")
    catalogue, stock = workshop.catalogue(), workshop.stock()
    assert engine_sizes(catalogue, stock.machines[RUNNER]).limit_rpm is None
    assert check(workshop, PROJECT).sums["limit_rpm"]["now"] == pytest.approx(8500)


def test_the_demo_machine_with_the_big_kit_says_what_it_has_become(store):
    """45 x 43 mm is 68.39 cm3 (pi / 4 x 4.5 x 4.5 x 4.3); the kit is fitted on the loaned Kittle."""
    from stash.services.demo import load_demo

    load_demo(store)
    sums = check(store, "4HSZ9X").sums
    assert sums["displacement_cm3"]["now"] == pytest.approx(68.39, abs=0.1)
    assert sums["displacement_cm3"]["stock"] == pytest.approx(48.77, abs=0.01)
    assert "local rules" in sums["displacement_cm3"]["note"]
