"""What a finding rests on, as a mechanic would say it."""

from hypothesis import HealthCheck, given, settings

from stash.fit.claims import part_of_design, part_of_lot
from stash.fit.settle import shortest_list
from stash.fit.verdicts import judge_machine, judge_model
from stash.fit.wording import beaten_reason, measurement_sentence
from tests.fit.reading import CASES, Given, load
from tests.fit.small_worlds import catalogues, questions
from tests.fit.test_settle import TABLES


def said_of(part_key, **changed):
    given = Given({**TABLES, **changed})
    lot = given.lots.get(part_key)
    part = part_of_lot(given.catalogue, lot) if lot else part_of_design(given.catalogue.design[part_key])
    (finding,) = judge_model(given.catalogue, part, "kestrel", "carb")
    wanted = shortest_list(given.catalogue, part, finding)
    return [measurement_sentence(given.catalogue, part, each) for each in wanted]


def test_what_to_measure_is_said_with_the_thing_and_the_time():
    assert said_of("L1") == [
        "size of this lot (about 15 s)",
        "wall of what is at the rod (about 30 s)",
        "spacing of this lot (about 20 s)",
    ]
    assert said_of("carb-a")[0].startswith("size of this design")


def test_a_look_names_what_to_tell_apart_and_a_companion_is_named():
    two = "design, position\nboot-x, boot\nboot-y, boot\nair-a, air\nrod-a, rod"
    designs = TABLES["designs"] + "boot-x, boot, size=20 spacing=41\nboot-y, boot, size=21 spacing=40\n"
    mates = "\n".join(TABLES["mates"].splitlines()[:3])
    assert said_of("carb-b", came_on=two, designs=designs, mates=mates) == [
        "see which it is at the boot: boot-x or boot-y (about 30 s)"
    ]
    more = TABLES["designs"] + "boot-z, boot, size=22 spacing=40\ncarb-f, carb, size=22 spacing=40 lip=1 pin=10\n"
    slow = TABLES["measures"] + "boot, tail, 150\n"
    tail = TABLES["mates"] + "tail, boot, tail, rod, tail\n"
    assert said_of("carb-f", designs=more, mates=tail, measures=slow) == [
        "wall of what is at the rod (about 30 s)",
        "tail of the boot-z (about 2 min)",
        "tail of what is at the rod (about 2 min)",
    ]


def why_beaten(rules, part="carb-a"):
    given = Given({**TABLES, "rules": rules})
    (finding,) = judge_model(given.catalogue, part_of_design(given.catalogue.design[part]), "kestrel", "carb")
    return [beaten_reason(given.catalogue, each, finding.heard) for each in finding.heard if each.beaten_by]


def test_a_beaten_claim_says_by_what_and_why():
    closer = "key, design, model, family, verdict, evidence, source\n"
    closer += "r, carb-a, kestrel, , bolts_on, word, a friend\ns, carb-a, , fam, wont_fit, word, another"
    assert why_beaten(closer) == ["beaten by: bolts on (heard it, a friend), which speaks of this more closely"]
    better = "key, design, model, verdict, evidence\nr, carb-a, kestrel, bolts_on, bench\n"
    better += "s, carb-a, kestrel, wont_fit, word"
    assert why_beaten(better) == ["beaten by: bolts on (fitted it on the bench), which is known better"]


def test_what_the_sizes_say_can_beat_and_be_beaten():
    heard = "key, design, family, verdict, evidence\nr, carb-c, fam, bolts_on, word"
    assert why_beaten(heard, "carb-c") == ["beaten by: won't fit (what the sizes say), which is known better"]


@settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))
@given(catalogues())
def test_everything_beaten_and_everything_to_find_out_can_be_said(catalogue):
    for design, model, position in questions(catalogue):
        part = part_of_design(design)
        for finding in judge_model(catalogue, part, model, position):
            for each in finding.heard:
                assert not each.beaten_by or beaten_reason(catalogue, each, finding.heard).startswith("beaten by: ")
            for wanted in shortest_list(catalogue, part, finding):
                assert measurement_sentence(catalogue, part, wanted).endswith((" s)", " min)"))


def test_a_rule_set_aside_by_a_mate_says_which():
    given = Given(load(CASES / "a_blended_machine_sets_a_rule_aside.toml")["tables"])
    part = part_of_design(given.catalogue.design["pin-12"])
    finding = judge_machine(given.catalogue, part, given.machines["BLEND"], "pin")
    said = [beaten_reason(given.catalogue, each, finding.heard) for each in finding.heard if each.beaten_by]
    assert said == ["set aside: on this machine pin-rod says the opposite"]
