"""The cases the scenario exists for, looked up in its own rows."""

import re
from collections import defaultdict

from tests.seed_demo.rows import lot_noted, measured_on, stock_of, values_of


def test_a_carburettor_number_was_replaced_twice_and_c_was_never_used(demo):
    replaced = {row["number"]: row["replaced_by"] for row in demo["numbers"] if row["number"].startswith("FN-11.120-")}
    assert replaced == {"FN-11.120-A": "FN-11.120-B", "FN-11.120-B": "FN-11.120-D", "FN-11.120-D": ""}


def test_one_number_means_a_key_at_fennaby_and_a_clamp_at_ruddlow(demo):
    makers = defaultdict(dict)
    for row in demo["numbers"]:
        makers[row["number"]][row["maker"]] = row["design"]
    assert {number: found for number, found in makers.items() if len(found) > 1} == {
        "40.118": {"fennaby": "key-3", "ruddlow": "clamp-25-35"}
    }
    assert {row["design"] for row in demo["lots"] if row["number_seen"] == "40.118"} == {"key-3", "clamp-25-35"}


def test_the_numbers_follow_the_way_each_maker_writes_them(demo):
    form = {"fennaby": r"FN-\d\d\.\d{3}-[A-Z]|40\.118", "ruddlow": r"R \d\d·\d{3}/\d|40\.118"}
    for row in demo["numbers"]:
        assert re.fullmatch(form[row["maker"]], row["number"]), row


def test_one_number_is_stamped_with_a_letter_o(demo):
    seen = [row for row in demo["lots"] if "38O" in row["number_seen"]]
    assert [row["design"] for row in seen] == ["piston-380-a"]
    assert seen[0]["number_seen"].replace("O", "0") in {row["number"] for row in demo["numbers"]}


def test_three_pistons_of_one_skirt_differ_in_pin_height_and_window(demo):
    values = values_of(demo)
    told = [tuple(values[f"piston-380-{x}"][name] for name in ("skirt_mm", "pin_bore_mm", "compression_height_mm",
            "window")) for x in "abc"]  # fmt: skip
    assert told == [("37.95", "10", "22", "no"), ("37.95", "12", "22", "yes"), ("37.96", "12", "24", "no")]


def test_a_worn_382_measures_between_a_new_38_and_a_new_382(demo):
    values, lot = values_of(demo), lot_noted(demo, "worn it measures like a new 38")
    worn = float(measured_on(demo)[lot["code"]]["skirt_mm"])
    assert lot["design"] == "piston-382"
    assert float(values["piston-380-a"]["skirt_mm"]) < worn < float(values["piston-382"]["skirt_mm"])


def test_the_sister_silencers_are_told_apart_by_a_caliper_alone(demo):
    values = values_of(demo)
    kittle, pip = values["silencer-kittle"], values["silencer-pip"]
    assert (kittle.pop("stud_spacing_mm"), pip.pop("stud_spacing_mm")) == ("38", "40")
    assert kittle == pip


def test_six_lots_are_not_identified(demo):
    assert sum(not row["design"] for row in demo["lots"]) == 6


def test_two_lots_lie_in_a_bin_for_something_else(demo):
    name = {row["code"]: row["name"] for row in demo["places"]}
    pin = {row["design"]: row["value"] for row in demo["design_measures"] if row["measure"] == "pin_bore_mm"}
    lies = [(row["design"], name[row["place"]]) for row in demo["lots"]]
    misfiled = [design for design, room in lies if room.endswith("pin 10") and pin.get(design) == "12"]
    misfiled += [design for design, room in lies if room.endswith("6202") and "6203" in design]
    assert misfiled == ["piston-380-b", "bearing-6203"]


def test_three_lots_were_not_counted_for_more_than_ten_years(demo):
    assert sum(row["counted_on"] < "2015" for row in demo["lots"]) == 3


def test_a_part_is_not_at_once_loose_and_still_on_the_machine_it_came_off(demo):
    state = {(row["machine"], row["position"]): row["state"] for row in demo["fitted"]}
    cut_up = {row["code"] for row in demo["machines"] if row["state"] in {"donor", "stripped"}}
    taken = [(row["from_machine"], row["from_position"]) for row in demo["lots"] if row["from_machine"] in cut_up]
    assert len(taken) > 20
    assert all(state[spot] == "missing" for spot in taken)


def test_a_part_found_only_on_a_donor_is_no_proof_of_stock(demo):
    lot = lot_noted(demo, "no proof")
    machine = next(row for row in demo["machines"] if row["code"] == lot["from_machine"])
    model = next(row for row in demo["models"] if row["key"] == machine["model"])
    assert machine["state"] == "donor"
    assert lot["design"] not in stock_of(demo, model, "carburettor")


def test_one_runner_is_a_blend_of_three_models(demo):
    machine = next(row for row in demo["machines"] if row["serial"] == "K 20418")
    model = next(row for row in demo["models"] if row["key"] == machine["model"])
    other = [
        row["design"]
        for row in demo["fitted"]
        if row["machine"] == machine["code"] and row["design"] not in stock_of(demo, model, row["position"])
    ]
    assert other == ["carb-14-s", "flange-a1-14", "cable-6", "flywheel-a2", "cover-a-tall"]


def test_the_export_machine_carries_the_sport_module(demo):
    machine = next(row for row in demo["machines"] if row["model"] == "pip-ii-e")
    fitted = {row["position"]: row["design"] for row in demo["fitted"] if row["machine"] == machine["code"]}
    assert fitted["ignition"] == "module-8500"


def test_the_halves_of_a_case_pair_share_their_number(demo):
    lots = {row["code"]: row["design"] for row in demo["lots"]}
    pairs = {lots[row["lot"]]: row["value"] for row in demo["lot_measures"] if row["measure"] == "pair_number"}
    assert pairs == {"case-pip-d": "4471", "case-pip-f": "4471"}
