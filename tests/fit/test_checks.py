"""Checking a machine as built: each level, and what to do about it."""

from stash.fit.catalogue import Catalogue
from stash.fit.checks import check_machine, is_changed, planned_machine
from stash.fit.claims import Part
from stash.fit.facts import (
    CameOn,
    Design,
    Family,
    Fitted,
    Generation,
    Kind,
    Machine,
    Mate,
    Measure,
    Model,
    PositionRow,
    Rule,
)
from stash.fit.intervals import interval
from stash.fit.speed import overspeed
from stash.kernel.years import Years

MM = 1_000_000


def size(mm):
    return interval(mm * MM)


WORKSHOP = Catalogue(
    families=(Family("a", "engine A"),),
    generations=(Generation("a1", "a", 1, "first"),),
    models=(
        Model("early", "Early", "fen", "a1", Years(1965, 1965), rated_rpm_u=5500 * MM),
        Model("free", "Free", "fen", "a1", Years(1965, 1969)),
    ),
    kinds=(
        Kind("piston", "piston"),
        Kind("pin", "wrist pin"),
        Kind("module", "ignition module", safety_critical=True, caution="See that the switch stops it."),
    ),
    measures=(
        Measure("piston", "bore", "pin bore", "number", "mm"),
        Measure("pin", "od", "diameter", "number", "mm"),
        Measure("module", "rev_limit_rpm", "rev limit", "number", "rpm"),
    ),
    designs=(
        Design("piston-10", "piston", "piston 10", values={"bore": size(10)}),
        Design("piston-12", "piston", "piston 12", values={"bore": size(12)}),
        Design("piston-14", "piston", "piston 14", values={"bore": size(14)}),
        Design("piston-x", "piston", "odd piston"),
        Design("pin-10", "pin", "pin 10", values={"od": size(10)}),
        Design("pin-12", "pin", "pin 12", values={"od": size(12)}),
        Design("module-55", "module", "slow", values={"rev_limit_rpm": size(5500)}),
        Design("module-85", "module", "fast", values={"rev_limit_rpm": size(8500)}),
    ),
    position_rows=tuple(PositionRow("a1", "", kind, kind) for kind in ("piston", "pin", "module")),
    came_on=(CameOn("piston-10", "piston", "a1"), CameOn("pin-10", "pin", "a1"), CameOn("module-55", "module", "a1")),
    mates=(Mate("eye", "pin in piston", "pin", "od", "piston", "bore", "same"),),
    rules=(Rule("ream", "with_work", "bench", design="piston-x", model="early", work="ream the eye"),),
)


def findings(**fitted):
    machine = Machine("M", "early", 1965, fitted={name: Fitted(*row) for name, row in fitted.items()})
    return {(found.level, found.position, found.mate): found for found in check_machine(WORKSHOP, machine)}


def test_a_machine_as_stock_has_no_findings():
    assert findings() == {}
    assert findings(piston=("present", "piston-10")) == {}


def test_only_a_part_that_is_there_can_be_changed():
    machine = Machine("M", "early", 1965, fitted={"piston": Fitted("missing"), "pin": Fitted("present", "pin-12")})
    assert [is_changed(WORKSHOP, machine, name) for name in ("piston", "pin", "module")] == [False, True, False]


def test_what_breaks_is_wrong_and_says_what_to_change_with_it():
    found = findings(piston=("present", "piston-12"))["wrong", "piston", "eye"]
    assert "10 mm" in found.text
    assert "pin 12 at the pin" in found.do


def test_what_nothing_mends_is_to_be_taken_off():
    assert "Take it off" in findings(piston=("present", "piston-14"))["wrong", "piston", "eye"].do


def test_work_that_a_rule_asks_for_is_asked_after_and_what_is_open_is_to_be_measured():
    found = findings(piston=("present", "piston-x"))
    assert "ream the eye" in found["ask", "piston", ""].do
    assert "bore of" in found["ask", "piston", "eye"].do


def test_a_missing_or_faulty_part_is_wrong_only_where_safety_hangs_on_it():
    assert findings(piston=("missing",))["note", "piston", ""].text == "is missing"
    assert findings(piston=("unknown",))["ask", "piston", ""].do
    assert findings(module=("faulty",))["wrong", "module", ""].text == "is faulty"


def test_a_limit_above_the_rated_speed_stops_everything_and_a_swapped_safety_part_brings_its_caution():
    found = findings(module=("present", "module-85"))
    assert "8500" in found["stop", "module", ""].text
    assert found["note", "module", ""].do == "See that the switch stops it."
    assert check_machine(WORKSHOP, Machine("M", "early", 1965, fitted={"module": Fitted("present", "module-85")}))[
        0
    ].level == ("stop")


def test_speed_is_no_question_where_nobody_rated_the_machine_or_the_kind_has_no_limit():
    fast = Part("module", "module-85", values={"rev_limit_rpm": size(8500)})
    assert overspeed(WORKSHOP, "free", fast) == ""
    assert overspeed(WORKSHOP, "early", Part("piston", "piston-12")) == ""
    assert overspeed(WORKSHOP, "early", Part("module", "module-55", values={"rev_limit_rpm": size(5500)})) == ""
    assert "not known" in overspeed(WORKSHOP, "early", Part("module"))
    assert overspeed(WORKSHOP, "early", Part("module", "module-55")) == ""


def test_a_build_is_checked_as_the_machine_it_would_become():
    owned = Machine("M", "early", 1965, fitted={"piston": Fitted("missing")})
    over = planned_machine(WORKSHOP, "early", owned, {"piston": Fitted("present", "piston-10")}, "job")
    assert check_machine(WORKSHOP, over) == ()
    nothing = planned_machine(WORKSHOP, "early", None, {"piston": Fitted("present", "piston-10")}, "job")
    assert nothing.year == 1965
    assert {found.position for found in check_machine(WORKSHOP, nothing)} == {"pin", "module"}
    assert planned_machine(WORKSHOP, "free", None, {}, "job").year is None
