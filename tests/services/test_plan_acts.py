"""What is done about a plan: reserved, walked, stripped, bought, and carried out through the ledger."""

from __future__ import annotations

import csv
import datetime as dt
import io
import random

import pytest

from stash.errors import Conflict, InvalidInput
from stash.exchange.raw import raw_table
from stash.plan.wares import Allowed
from stash.services import checks, history, machines, page_rows, rows
from stash.services.counting import Found, count
from stash.services.machines import Off
from stash.services.plan_lists import errands
from stash.services.plan_questions import Asked, make, offers, what_if
from stash.services.plan_reserve import reserve
from stash.services.tables import load
from stash.services.verify import verify
from tests.services.workshop import BIN_A, CARB_TURNED, CLIPS, DONOR, PROJECT, RUNNER, first_coded

TODAY = dt.date(1980, 5, 1)
SHELF = Asked(Allowed(), with_gaps=False)


def extend(store, **tables):
    given = {name: raw_table(list(csv.reader(io.StringIO(text)))) for name, text in tables.items()}
    report = load(store, given, "owner")
    assert report.ok, [str(problem) for problem in report.errors]


def parts_of(store):
    return {(key, part.position, part.lot) for key, build in store.stock().builds.items() for part in build.parts}


def kept(store, made):
    return reserve(store, made.catalogue, made.stock, made.plan, who="Ann")


def test_all_of_a_plan_is_reserved_in_one_step_and_undone_as_one(workshop):
    before = parts_of(workshop)
    done = kept(workshop, make(workshop, SHELF))
    assert done.said == "Reserved 1 lot for 1 build."
    assert parts_of(workshop) - before == {("winter", "clip", CLIPS)}
    again = make(workshop, SHELF)
    assert all(part.decided for build in again.plan.builds for part in build.parts)
    assert kept(workshop, again).batch is None
    history.undo(workshop, done.batch, who="Ann")
    assert parts_of(workshop) == before
    assert verify(workshop).ok


def test_a_gap_that_is_reserved_becomes_a_build(workshop):
    rows.delete_row(workshop, "builds", {"key": "winter"}, None, "Ann")
    made = make(workshop, Asked(Allowed(), with_gaps=True))
    done = kept(workshop, made)
    (build,) = workshop.stock().builds.values()
    assert (build.machine, build.status, build.name) == (PROJECT, "open", "Ruddlow Late, 1972")
    assert {(part.position, part.lot) for part in build.parts} == {("carburettor", CARB_TURNED), ("clip", CLIPS)}
    assert make(workshop, SHELF).plan.completed == (build.key,)
    history.undo(workshop, done.batch, who="Ann")
    assert not workshop.stock().builds


def test_a_build_from_nothing_is_reserved_from_the_shelf_and_what_is_bought_is_not(workshop):
    extend(workshop, builds="key,name,model,status\nbare,From nothing,early,open\n")
    kept(workshop, make(workshop, Asked(Allowed(buy=True), with_gaps=False)))
    assert {position for key, position, _ in parts_of(workshop) if key == "bare"} == {"carburettor", "clip"}


def test_a_key_that_is_taken_gets_a_number(workshop):
    extend(workshop, builds=f"key,name,machine,status\nlate-{PROJECT.lower()},Old one,{PROJECT},done\n")
    rows.delete_row(workshop, "builds", {"key": "winter"}, None, "Ann")
    kept(workshop, make(workshop, Asked(Allowed(), with_gaps=True)))
    assert f"late-{PROJECT.lower()}-2" in workshop.stock().builds


def less(store):
    count(store, CLIPS, Found(3), who="Bob", on=TODAY)


def other_build(store):
    extend(store, builds=f"key,name,machine,status\nspring,Spring,{PROJECT},open\n")


def done_meanwhile(store):
    machines.fit(store, PROJECT, "clip", CLIPS, who="Bob", anyway=True)


def decided_otherwise(store):
    extend(store, build_parts=f"build,position,lot\nwinter,clip,{CLIPS}\n")


def new_design(store):
    extend(store, designs="key,kind,name\ncarb-1,carb,another\n")


def measured_anew(store):
    extend(store, lot_measures=f"lot,measure,value\n{CARB_TURNED},spigot_mm,31\n")


def neighbour_noted(store):
    extend(store, fitted=f"machine,position,state\n{PROJECT},module,faulty\n")


def another_year(store):
    row = page_rows.row(store, "machines", (PROJECT,))
    rows.save_row(store, "machines", {**row.cells, "year": "1971"}, {"code": PROJECT}, row.version, "Bob")


def gone(store):
    rows.delete_row(store, "builds", {"key": "winter"}, None, "Bob")


@pytest.mark.parametrize(
    ("meanwhile", "named"),
    [
        (less, "lot"),
        (other_build, "build spring"),
        (done_meanwhile, "the clip of"),
        (decided_otherwise, "build Winter build"),
        (gone, "build Winter build"),
        (measured_anew, "what was measured on lot"),
        (neighbour_noted, "the module of"),
        (another_year, "machine PRJ"),
        (new_design, "the catalogue"),
    ],
)
def test_what_changed_meanwhile_is_named_and_nothing_is_reserved(workshop, meanwhile, named):
    made = make(workshop, SHELF)
    meanwhile(workshop)
    before = parts_of(workshop)
    with pytest.raises(Conflict, match=named):
        kept(workshop, made)
    assert parts_of(workshop) == before


def test_a_part_that_only_moved_is_reserved_all_the_same(workshop):
    from stash.services.lots import move

    made = make(workshop, SHELF)
    move(workshop, CLIPS, BIN_A, who="Bob")
    assert kept(workshop, made).batch is not None


@pytest.fixture
def bare(workshop):
    """The workshop with a build from nothing, for which a boot and a module have to be bought."""
    extend(workshop, builds="key,name,model,status\nbare,From nothing,early,open\n")
    return workshop


def test_the_way_along_the_bins_names_each_lot_once(bare):
    made = make(bare, Asked(Allowed(buy=True), with_gaps=False))
    todo = errands(made.catalogue, made.stock, made.plan)
    assert [stop.place for stop in todo.walk] == sorted(stop.place for stop in todo.walk)
    assert len({stop.lot for stop in todo.walk}) == len(todo.walk)
    clips = next(stop for stop in todo.walk if stop.lot == CLIPS)
    assert (clips.quantity, {use.build for use in clips.uses}) == (4, {"Winter build", "From nothing"})


def test_what_to_buy_is_listed_with_numbers_costs_and_what_to_check_before_paying(bare):
    made = make(bare, Asked(Allowed(buy=True), with_gaps=False))
    todo = errands(made.catalogue, made.stock, made.plan)
    module, boot = todo.buy
    assert (module.design, module.numbers, module.cost_minor) == ("module-55", ("Fennaby FN-41.055",), 3000)
    assert (boot.design, boot.cost_minor, todo.cost_minor) == ("boot-0", 500, 3500)
    assert module.measures == ("rev limit 5500 rpm",)
    assert module.alike == ("fast module has rev limit 8500 rpm",)
    assert boot.measures == ("rotation 0", "bore 18.9\u202619.1 mm")
    assert boot.alike == ("turned boot has rotation 90",)
    assert any("safety-critical" in text for text in module.cautions)
    assert "Check that the switch stops it." in module.cautions
    data = todo.as_dict()
    assert data["buy_list"][0]["cost"] == 30.0
    assert data["pick_list"][0]["uses"]


def test_what_nothing_tells_apart_is_to_be_known_by_its_number(bare):
    extend(
        bare,
        designs="key,kind,name\nmodule-56,module,other module\n",
        design_measures="design,measure,value\nmodule-56,rev_limit_rpm,5500\n",
    )
    made = make(bare, Asked(Allowed(buy=True), with_gaps=False))
    module = errands(made.catalogue, made.stock, made.plan).buy[0]
    assert "other module has nothing known to tell it by: go by the number" in module.alike


def test_one_part_that_would_finish_a_build_is_listed_without_buying(workshop):
    count(workshop, CARB_TURNED, Found(0, looked=True), who="Ann", on=TODAY)
    rows.delete_row(
        workshop, "build_parts", {"build": "winter", "position": "carburettor", "lot": CARB_TURNED}, None, "A"
    )
    made = make(workshop, SHELF)
    todo = errands(made.catalogue, made.stock, made.plan)
    assert [each.design for each in todo.would_finish] == ["carb-90"]
    assert todo.as_dict()["would_finish"][0]["each"] == 25.0


def test_a_number_that_was_replaced_and_a_price_nobody_noted(workshop):
    extend(
        workshop,
        designs="key,kind,name,price\ncarb-90,carb,turned carburettor,\n",
        numbers="number,maker,design,replaced_by\nR 11·119/1,rud,carb-90,R 11·120/1\n",
    )
    rows.delete_row(
        workshop, "build_parts", {"build": "winter", "position": "carburettor", "lot": CARB_TURNED}, None, "A"
    )
    count(workshop, CARB_TURNED, Found(0, looked=True), who="Ann", on=TODAY)
    made = make(workshop, SHELF)
    (wish,) = errands(made.catalogue, made.stock, made.plan).would_finish
    assert (wish.older, wish.cost_minor, wish.as_dict()["each"]) == (("Ruddlow R 11·119/1",), None, None)


def test_what_comes_off_a_donor_says_where_and_whether_anybody_looked(workshop):
    extend(workshop, builds="key,name,model,status\nbare,From nothing,early,open\n")
    machines.mark(workshop, DONOR, "module", "present", who="Ann", design="module-55", condition="new")
    made = make(workshop, Asked(Allowed(donors=True), with_gaps=False))
    off = errands(made.catalogue, made.stock, made.plan).donors
    assert {each.donor for each in off} == {DONOR}
    assert {each.position: each.assumed for each in off} == {"boot": True, "module": False}
    assert all(use.build == "From nothing" for each in off for use in each.uses)


def test_what_if_allows_one_thing_more(workshop):
    made = make(workshop, SHELF)
    assert [offer.donor for offer in offers(made)] == [DONOR]
    asked = {
        more: what_if(made, more, "12.50" if more == "buy" else "")
        for more in ("work", "donors", "buy", f"strip:{DONOR}")
    }
    assert asked["work"] == (Asked(Allowed(work=True), with_gaps=False), "work is allowed")
    assert asked["donors"][0].allowed == Allowed(donors=True)
    assert asked["buy"] == (Asked(Allowed(buy=True, purse_minor=1250), with_gaps=False), "up to 12.50 may be spent")
    assert what_if(made, "buy")[1] == "buying is allowed"
    assert what_if(made, "longer")[0].seconds == 60
    assert asked[f"strip:{DONOR}"][0].allowed == Allowed(strip=frozenset({DONOR}))
    assert offers(make(workshop, asked[f"strip:{DONOR}"][0])) == ()


@pytest.mark.parametrize(("more", "amount"), [("moon", ""), ("strip:ABC", ""), ("buy", "much"), ("buy", "-1")])
def test_what_can_not_be_allowed_is_told(workshop, more, amount):
    with pytest.raises(InvalidInput):
        what_if(make(workshop, SHELF), more, amount)


def carry_out(store, made):
    """Do what a plan says with the tools of the bench; returns the builds that are on machines."""
    on_machines = [build for build in made.plan.builds if build.complete and build.machine]
    for build in on_machines:
        for position in sorted({part.position for part in build.parts}):
            chosen = [part for part in build.parts if part.position == position]
            assert len(chosen) == 1, "these worlds hold lots that are large enough"
            lot = chosen[0].lot
            if chosen[0].donor:
                took = machines.strip(store, chosen[0].donor, {chosen[0].donor_position: Off()}, who="Ann")
                (lot,) = took.codes
            machines.fit(store, build.machine, position, lot, who="Ann", anyway=True, acknowledged=True)
    return on_machines


def wrong_on(store, machine):
    return [each.text for each in checks.check(store, machine).findings if each.level in {"stop", "wrong"}]


def test_a_plan_carried_out_leaves_no_finding_on_a_completed_machine(workshop):
    made = make(workshop, SHELF)
    assert [build.machine for build in carry_out(workshop, made)] == [PROJECT]
    assert wrong_on(workshop, PROJECT) == []
    assert verify(workshop).ok
    assert not make(workshop, Asked(Allowed(), with_gaps=True)).plan.builds[0].parts


@pytest.mark.parametrize("seed", range(5))
def test_on_a_random_shelf_too(workshop, seed):
    rng = random.Random(seed)
    sheet = {"carburettor": "carb", "boot": "boot", "clip": "clip", "module": "module"}
    designs = {
        "carb": ("carb-0", "carb-90"),
        "boot": ("boot-0", "boot-90"),
        "clip": ("clip-10",),
        "module": ("module-55", "module-85"),
    }
    holes = [(machine, position) for machine in (PROJECT, RUNNER) for position in sheet if rng.random() < 0.7]
    lots = [rng.choice(list(sheet.values())) for _ in range(8)]
    codes = [first_coded(f"S{number:02d}A") for number in range(8)]
    extend(
        workshop,
        fitted="machine,position,state\n" + "".join(f"{code},{name},missing\n" for code, name in holes),
        lots="code,kind,design,quantity,condition\n"
        + "".join(f"{code},{kind},{rng.choice(designs[kind])},2,new\n" for code, kind in zip(codes, lots, strict=True)),
    )
    made = make(workshop, Asked(Allowed(donors=seed % 2 == 1), with_gaps=True))
    assert made.plan.status == "optimal"
    for build in carry_out(workshop, made):
        assert wrong_on(workshop, build.machine) == []
        assert all(row.state == "present" for row in workshop.stock().machines[build.machine].fitted.values())
    assert verify(workshop).ok
