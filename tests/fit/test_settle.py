"""The shortest list of measurements: fewest, then quickest, most telling first."""

from dataclasses import replace

from hypothesis import HealthCheck, given, settings

from stash.fit.claims import Site, part_of_design, part_of_lot
from stash.fit.intervals import Interval, Outcome
from stash.fit.mates import mate_states
from stash.fit.settle import UNKNOWN_EFFORT_S, shortest_list
from stash.fit.verdicts import judge_model
from tests.fit.reading import Given
from tests.fit.small_worlds import catalogues, questions

TABLES = {
    "models": "key\nkestrel",
    "positions": "position\nboot\ncarb\nair\nrod",
    "measures": """kind, key, effort_s
carb, size, 15
carb, spacing, 20
air, lip, 5
boot, size, 90
boot, spacing, 10
""",
    "designs": """key, kind, values
carb-a, carb,
carb-b, carb, size=20 spacing=40 lip=1 pin=10
carb-c, carb, size=22 spacing=40
carb-d, carb, size=20 spacing=42
carb-e, carb, size=20 spacing=40 lip=1..2 pin=10
boot-a, boot, size=20 spacing=40
boot-b, boot, size=20 spacing=42
air-a, air, lip=1
rod-a, rod, pin=10
""",
    "came_on": "design, position\nboot-a, boot\nair-a, air\nrod-a, rod",
    "mates": """key, kind_a, measure_a, kind_b, measure_b
bore, carb, size, boot, size
holes, carb, spacing, boot, spacing
lips, carb, lip, air, lip
pins, carb, pin, rod, pin
wall, carb, size, rod, wall
""",
    "lots": "code, kind, values\nL1, carb, lip=1 pin=10",
}


def asked(part_key, **changed):
    given = Given({**TABLES, **changed})
    lot = given.lots.get(part_key)
    part = part_of_lot(given.catalogue, lot) if lot else part_of_design(given.catalogue.design[part_key])
    (finding,) = judge_model(given.catalogue, part, "kestrel", "carb")
    return [(each.of, each.measure, each.closes) for each in shortest_list(given.catalogue, part, finding)], given


def test_one_measurement_serves_every_mate_that_reads_it_and_the_most_telling_comes_first():
    told, _ = asked("L1")
    assert told == [
        ("L1", "size", ("bore", "wall")),
        ("rod", "wall", ("wall",)),
        ("L1", "spacing", ("holes",)),
    ]


def test_the_chance_is_the_share_of_known_designs_that_would_break_it():
    given = Given(TABLES)
    part = part_of_lot(given.catalogue, given.lots["L1"])
    (finding,) = judge_model(given.catalogue, part, "kestrel", "carb")
    chances = {each.measure: each.chance for each in shortest_list(given.catalogue, part, finding)}
    assert chances == {"wall": 0.5, "size": 0.5, "spacing": 0.25}


def test_what_is_settled_by_what_is_said_or_by_a_break_needs_no_measuring():
    rule = {"rules": "key, design, model, evidence\nr, carb-a, kestrel, bench"}
    assert asked("carb-a", **rule)[0] == []
    assert asked("carb-c")[0] == []
    both = "r, carb-c, fam, wont_fit, bench\ns, carb-c, fam, bolts_on, bench"
    disputed = {"rules": f"key, design, family, verdict, evidence\n{both}"}
    assert asked("carb-c", **disputed)[0] == []


def test_a_value_too_coarse_is_measured_on_both_sides():
    told, _ = asked("carb-e", mates="key, kind_a, measure_a, kind_b, measure_b\nlips, carb, lip, air, lip")
    assert told == [("air", "lip", ("lips",)), ("carb-e", "lip", ("lips",))]


def test_seeing_which_stock_part_is_there_replaces_measuring_each_of_its_sizes():
    two = "design, position\nboot-x, boot\nboot-y, boot\nair-a, air\nrod-a, rod"
    designs = TABLES["designs"] + "boot-x, boot, size=20 spacing=41\nboot-y, boot, size=21 spacing=40\n"
    mates = "\n".join(TABLES["mates"].splitlines()[:3])
    told, given = asked("carb-b", came_on=two, designs=designs, mates=mates)
    assert told == [("boot", "", ("bore", "holes"))]
    part = part_of_design(given.catalogue.design["carb-b"])
    (finding,) = judge_model(given.catalogue, part, "kestrel", "carb")
    (look,) = shortest_list(given.catalogue, part, finding)
    assert look.among == ("boot-x", "boot-y")
    quick = TABLES["mates"].splitlines()[0] + "\nholes, carb, spacing, boot, spacing"
    assert asked("carb-b", came_on=two, designs=designs, mates=quick)[0] == [("boot", "spacing", ("holes",))]


def test_companions_list_what_to_measure_before_they_are_trusted():
    designs = TABLES["designs"] + "boot-z, boot, size=22 spacing=40\ncarb-f, carb, size=22 spacing=40 lip=1 pin=10\n"
    mates = TABLES["mates"] + "tail, boot, tail, rod, tail\n"
    told, _ = asked("carb-f", designs=designs, mates=mates)
    assert told == [("boot-z", "tail", ("tail",)), ("rod", "tail", ("tail",)), ("rod", "wall", ("wall",))]
    rule = {"rules": "key, design, model, verdict, companions\nr, carb-a, kestrel, with_companions, boot-a"}
    assert asked("carb-a", **rule)[0] == []


def test_a_measure_that_does_not_say_how_long_it_takes_is_taken_at_a_default():
    given = Given(TABLES)
    part = part_of_design(given.catalogue.design["carb-b"])
    (finding,) = judge_model(given.catalogue, part, "kestrel", "carb")
    (wall,) = shortest_list(given.catalogue, part, finding)
    assert (wall.of, wall.effort_s) == ("rod", UNKNOWN_EFFORT_S)


@settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))
@given(catalogues())
def test_once_all_on_the_list_is_known_no_mate_is_open_for_want_of_a_value(catalogue):
    """Measuring the part's own listed values as sharp ones closes every mate whose other end is known and sharp."""
    for design, model, position in questions(catalogue):
        for finding in judge_model(catalogue, part_of_design(design), model, position):
            listed = shortest_list(catalogue, part_of_design(design), finding)
            assert len({(each.of, each.measure) for each in listed}) == len(listed)
            opened = {state.mate.key for state in finding.mates if state.outcome is Outcome.OPEN}
            if finding.verdict == "unknown":
                assert {key for each in listed for key in each.closes} == opened
                known = {each.measure: Interval(2, 2) if each.measure == "size" else "yes" for each in listed}
                own = {each.measure for each in listed if each.of == design.key}
                sharp = replace(design, values={**design.values, **{name: known[name] for name in own}})
                year = finding.years.from_year or finding.years.to_year
                for state in mate_states(
                    catalogue, part_of_design(sharp), Site(catalogue.model[model], position), year
                ):
                    if state.outcome is Outcome.OPEN and state.mate.key in opened:
                        coarse = any(isinstance(each, Interval) and each.low_u < each.high_u for each in state.theirs)
                        assert coarse or any(each.of == state.position for each in listed)
