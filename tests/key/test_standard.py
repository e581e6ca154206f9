"""Standard parts by designation: one goes in the place of another, whoever made it, and never better than it is."""

from dataclasses import replace

import pytest

from stash.bench.standard import designated, read_standard, same_thread, to_mind
from stash.fit.catalogue import Catalogue
from stash.fit.claims import part_of_design, part_of_lot
from stash.fit.facts import (
    CameOn,
    Design,
    Family,
    Generation,
    Kind,
    Lot,
    Maker,
    Measure,
    Model,
    Number,
    PositionRow,
    Rule,
)
from stash.fit.intervals import interval
from stash.fit.verdicts import judge_model
from stash.key.standard import named, same_parts


def mm(size, minus=0, plus=0):
    return interval(round(size * 1_000_000), round(minus * 1_000_000), round(plus * 1_000_000))


def ball(key, sizes=(15, 35, 11), seals="open", clearance="normal", maker="", **more):
    values = {"id_mm": mm(sizes[0]), "od_mm": mm(sizes[1]), "width_mm": mm(sizes[2])}
    words = {"seals": seals, "clearance": clearance, "type": "deep-groove ball", "snap_ring": "none"}
    return Design(key, "main_bearing", key, maker, values={**values, **words, **more})


def without(design, *measures):
    return replace(design, values={key: value for key, value in design.values.items() if key not in measures})


DESIGNS = (
    ball("fen-6202", maker="fen", cage="steel"),
    ball("rud-6202", maker="rud"),
    ball("c3", clearance="C3"),
    ball("sealed", seals="both sides"),
    ball("polymer", cage="polymer"),
    ball("inch", (15, 34.925, 11)),
    ball("rollers", type="cylindrical roller"),
    ball("grooved", snap_ring="groove"),
    without(ball("untyped"), "type"),
    without(ball("unseen-rim"), "snap_ring"),
    ball("6203", (17, 40, 12)),
    Design("half", "main_bearing", values={"id_mm": mm(15), "od_mm": mm(35)}),
    Design("bare", "main_bearing"),
    Design("plug", "spark_plug", values={"thread": "M14x1.25"}),
    Design("other-plug", "spark_plug", values={"thread": "M10x1"}),
    Design("head", "head", values={"plug_thread": "M14x1.25", "bore_mm": mm(38)}),
)
WORLD = Catalogue(
    makers=(Maker("fen", "Fennaby"), Maker("rud", "Ruddlow")),
    families=(Family("a", "A"),),
    generations=(Generation("a1", "a", 1, "first"),),
    models=(Model("m", "M", "fen", "a1"),),
    kinds=(Kind("main_bearing", "main bearing"), Kind("spark_plug", "plug"), Kind("head", "head")),
    measures=(Measure("main_bearing", "seals", "closed", "choice"),),
    designs=DESIGNS,
    numbers=(Number("1", "fen", "old", "2"), Number("2", "fen", "fen-6202")),
    position_rows=(PositionRow("a1", "", "bearing", "main_bearing"),),
    came_on=(CameOn("fen-6202", "bearing", "a1"),),
    same_parts=same_parts(DESIGNS),
)


def verdicts(key, world=WORLD):
    return judge_model(world, part_of_design(world.design[key]), "m", "bearing")


def test_only_designs_that_agree_in_all_that_decides_are_one_standard_part():
    (only,) = WORLD.same_parts
    assert (only.name, only.source, only.designs) == ("6202", "ISO 15:2017", {"fen-6202", "rud-6202"})


def test_a_bearing_of_another_maker_fits_where_its_designation_came_on():
    (finding,) = verdicts("rud-6202")
    assert finding.verdict == "bolts_on"
    claim = finding.heard[0].claim
    assert "as 6202 it is the same standard part as fen-6202" in claim.reason
    assert claim.source == "stock sheet; ISO 15:2017"
    assert claim.evidence == "book"
    (own,) = verdicts("fen-6202")
    assert own.heard[0].claim.source == "stock sheet"


@pytest.mark.parametrize("key", [
    "c3", "sealed", "polymer", "inch", "rollers", "grooved", "untyped", "unseen-rim", "half", "6203", "bare",
])  # fmt: skip
def test_nothing_is_promised_for_a_bearing_that_differs_in_anything_that_decides(key):
    (finding,) = verdicts(key)
    assert finding.verdict == "unknown"
    assert finding.heard == ()


def test_what_somebody_saw_at_the_bench_goes_before_the_standard():
    rule = Rule("r", "wont_fit", "bench", design="rud-6202", model="m", position="bearing", source="Ann")
    world = Catalogue(**{**{each: getattr(WORLD, each) for each in WORLD.__dataclass_fields__}, "rules": (rule,)})
    (finding,) = verdicts("rud-6202", world)
    assert finding.verdict == "wont_fit"


@pytest.mark.parametrize(
    ("own", "verdict"),
    [
        ({}, "bolts_on"),
        ({"clearance": "normal", "width_mm": mm(11, 0.1, 0.1)}, "bolts_on"),
        ({"clearance": "C3"}, "unknown"),
        ({"snap_ring": "groove"}, "unknown"),
        ({"width_mm": mm(12, 0.1, 0.1)}, "unknown"),
        ({"plays_mm": mm(1)}, "bolts_on"),
    ],
)
def test_a_lot_that_was_found_to_differ_from_its_design_is_not_that_standard_part(own, verdict):
    lot = Lot("L", "main_bearing", "rud-6202", values=own)
    (finding,) = judge_model(WORLD, part_of_lot(WORLD, lot), "m", "bearing")
    assert finding.verdict == verdict


def test_the_same_part_replaces_what_its_twin_replaces():
    assert WORLD.forerunners["rud-6202"] == {"fen-6202", "old"}
    assert WORLD.forerunners["fen-6202"] == {"rud-6202", "old"}
    assert "old" not in WORLD.forerunners
    assert Catalogue(numbers=WORLD.numbers).forerunners == {"fen-6202": {"old"}}


def test_circlips_of_one_size_and_o_rings_of_one_size_and_rubber_are_one_part():
    """Source: DIN 472: a ring for 40 mm is 1.75 thick; ISO 3601: 116 is 18.72 x 2.62, its look-alike 210 is not."""

    def ring(key, cord, inside, **rubber):
        return Design(key, "o_ring", values={"id_mm": mm(inside), "cord_mm": mm(cord), **rubber})

    def clip(key, form, thick=1.75):
        return Design(key, "circlip", values={"nominal_mm": mm(40), "thickness_mm": mm(thick), "form": form})

    found = same_parts(
        (ring("a", 2.62, 18.72, rubber="nitrile"), ring("b", 2.62, 18.72, rubber="nitrile"),
         ring("c", 3.53, 18.64, rubber="nitrile"), ring("d", 2.4, 18.72, rubber="nitrile"),
         ring("i", 2.62, 18.72, rubber="silicone"), ring("j", 2.62, 18.72), ring("k", 2.62, 18.72),
         clip("e", "bore"), clip("f", "bore"), clip("g", "shaft"), clip("h", "bore", 2.5))
    )  # fmt: skip
    assert [(each.name, sorted(each.designs)) for each in found] == [
        ("DIN 472 40 x 1.75", ["e", "f"]),
        ("ISO 3601 116: 18.72 x 2.62 mm, nitrile", ["a", "b"]),
    ]


@pytest.mark.parametrize(
    "odd",
    [
        ball("odd", snap_ring="groove"),
        ball("odd", rows=mm(2)),
        replace(ball("odd"), values={**ball("odd").values, "id_mm": mm(15, 0.5, 0.5)}),
        replace(ball("odd"), values={**ball("odd").values, "od_mm": mm(35, 0.08, 0.08)}),
        replace(ball("odd"), values={**ball("odd").values, "width_mm": mm(11, 1, 1)}),
    ],
)
def test_what_differs_beside_the_standard_or_is_not_known_closely_is_not_the_same_part(odd):
    assert same_parts((ball("plain"), odd)) == ()


def test_two_of_one_make_beside_the_standard_and_within_its_tolerance_are_the_same_part():
    """Source: ISO 492, normal class: rings for 15 and 35 mm to 0.008 and 0.011 mm below, width to 0.12 mm below."""
    odd = ball("odd", snap_ring="groove")
    near = {"id_mm": mm(15, 0.008), "od_mm": mm(35, 0.011), "width_mm": mm(11, 0.12)}
    (only,) = same_parts((odd, ball("plain"), replace(odd, key="near", values={**odd.values, **near})))
    assert only.designs == {"odd", "near"}


@pytest.mark.parametrize("typed", ["6202N", "6202-NR", "6202 WT77"])
def test_a_number_that_says_more_than_the_record_names_no_design_exactly(typed):
    """Source of the groove's letters: common practice, no source."""
    found = named(replace(WORLD, designs=tuple(each for each in DESIGNS if each.key != "grooved")), typed)
    assert {"fen-6202", "rud-6202"} < {hit.design for hit in found}
    assert not any(hit.exact for hit in found)
    assert all(hit.differs or hit.open for hit in found)


def test_a_snap_ring_in_the_number_names_the_one_that_has_it():
    """Source of the groove's letters: common practice, no source."""
    assert [hit.design for hit in named(WORLD, "6202N") if hit.exact] == ["grooved"]
    (hit,) = (hit for hit in named(WORLD, "6202") if hit.design == "grooved")
    assert hit.differs == ("snap_ring groove, not none",)


def test_a_record_that_says_more_than_the_number_is_not_named_exactly():
    world = replace(WORLD, designs=(*DESIGNS, ball("worn", grease="none left")))
    (hit,) = (hit for hit in named(world, "6202") if hit.design == "worn")
    assert hit.differs == ("grease none left: not in the number",)
    assert not hit.exact


@pytest.mark.parametrize(
    ("kind", "values"),
    [
        ("piston", {"skirt_mm": 38.0}),
        ("main_bearing", {"id_mm": 15.0}),
        (
            "main_bearing",
            {
                "id_mm": "wide",
                "od_mm": 35.0,
                "width_mm": 11.0,
                "seals": "open",
                "clearance": "C3",
                "type": "deep-groove ball",
                "snap_ring": "none",
            },
        ),
        ("o_ring", {"id_mm": 1.0, "cord_mm": 9.0}),
        ("o_ring", {"id_mm": 18.72, "cord_mm": 2.62}),
    ],
)
def test_sizes_that_do_not_decide_make_no_standard_part(kind, values):
    assert designated(kind, values) is None


@pytest.mark.parametrize(
    ("typed", "exact", "near"),
    [
        (
            "6202",
            ["fen-6202", "rud-6202"],
            {"polymer": "cage polymer, not steel", "c3": "C3, not normal", "sealed": "closed both sides, not open"},
        ),
        ("6202/C3", ["c3"], {"rud-6202": "normal, not C3"}),
        ("6202 2RS", ["sealed"], {"rud-6202": "closed open, not both sides"}),
        ("62022rs/c3", [], {"sealed": "normal, not C3", "c3": "closed open, not both sides"}),
        ("6203 C5", [], {"6203": "clearance normal, not C5"}),
        ("6302", [], {}),
        ("FN-21", [], {}),
    ],
)
def test_a_number_with_suffixes_names_the_designs_it_is_and_tells_in_what_others_differ(typed, exact, near):
    found = named(WORLD, typed)
    assert [hit.design for hit in found if hit.exact] == exact
    told = {hit.design: "; ".join(hit.differs) for hit in found}
    assert all(words in told[design] for design, words in near.items())
    assert "inch" not in told


def test_what_a_design_has_not_on_record_is_open():
    assert next(hit.open for hit in named(WORLD, "6202") if hit.design == "half") == (
        "width_mm", "clearance", "seals", "type", "snap_ring",
    )  # fmt: skip


def test_a_thread_names_what_has_it_but_no_part_whole():
    found = named(WORLD, "m14 x 1.25")
    assert [hit.design for hit in found] == ["head", "plug"]
    assert not any(hit.exact for hit in found)
    assert same_thread("M6", "M6x1")
    assert not same_thread("M6", "free")


@pytest.mark.parametrize(
    ("typed", "name", "source"),
    [
        ("6203-2RS/C3", "6203-2RS/C3", "ISO 15:2017"),
        ("6203 ZZ", "6203-2Z", "ISO 15:2017"),
        ("DIN 471 15", "DIN 471 15 x 1", "DIN 471"),
        ("O-ring 116", "ISO 3601 116: 18.72 x 2.62 mm", "ISO 3601-1:2012"),
        ("ISO 3601 210", "ISO 3601 210: 18.64 x 3.53 mm", "ISO 3601-1:2012"),
        ("M8x1", "M8x1", "ISO 261:1998"),
    ],
)
def test_a_designation_is_read_however_it_is_written(typed, name, source):
    found = read_standard(typed)
    assert (found.name, found.source) == (name, source)


@pytest.mark.parametrize("typed", ["", "piston", "6099", "DIN 471 2.2", "O-ring 999", "M99", "62021"])
def test_what_is_no_designation_is_none(typed):
    assert read_standard(typed) is None


def test_a_standard_part_says_every_measure_that_makes_it_one():
    ring = designated("o_ring", {"id_mm": 18.72, "cord_mm": 2.62, "rubber": "nitrile"})
    assert ring.values == {"id_mm": "18.72", "cord_mm": "2.62", "rubber": "nitrile"}


def test_what_differs_from_stock_is_told_with_what_to_mind():
    """Source: common practice, no source."""
    stock = {"seals": "open", "clearance": "normal", "cage": "steel", "type": "deep-groove ball", "snap_ring": "none"}
    assert to_mind(stock, stock) == ()
    closed, looser, cage = to_mind(stock, {"seals": "both sides", "clearance": "C3", "cage": "polymer"})
    assert "mixture cannot reach the balls" in closed
    assert "looser inside" in looser
    assert "120 °C" in cage
    (rollers,) = to_mind({"type": "deep-groove ball"}, {"type": "cylindrical roller"})
    assert "endways" in rollers
    (ringed,) = to_mind({"snap_ring": "groove and ring"}, {"snap_ring": "none"})
    assert "holds it in the case" in ringed
    (tighter,) = to_mind({"clearance": "C3"}, {"clearance": "normal", "seals": "open"})
    assert "seize" in tighter
    assert "grease in and dirt out" in to_mind({"seals": "both sides"}, {"seals": "open"})[0]
    assert to_mind({"seals": "both sides"}, {"seals": "one side"}) == (
        "closed on one side, where stock is closed on both sides",
    )
