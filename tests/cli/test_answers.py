"""``fits``, ``gaps``, ``check``, ``find`` and ``identify``: the same answers in words and as JSON."""

from __future__ import annotations

import json

import pytest
from click.testing import CliRunner

from stash.cli import main
from stash.services.fits import fits as judged
from stash.services.open import open_stash
from tests.services.workshop import (
    BIN_A,
    BIN_B,
    BOOTS,
    CARB_TURNED,
    CARBS,
    CLIPS,
    MYSTERY,
    PROJECT,
    RUNNER,
    first_coded,
)


def test_fits_says_the_model_it_came_on_and_whose_word_it_is(type_in):
    result = type_in("fits", CARBS)
    assert result.exit_code == 0
    assert result.stdout.startswith(f"carb: straight carburettor (carb-0), lot {CARBS}")
    row = next(line for line in result.stdout.splitlines() if line.startswith("bolts on"))
    assert "Early" in row
    assert "maker's literature" in result.stdout
    assert "your machines" in result.stdout
    assert RUNNER in result.stdout


def test_fits_in_words_and_json_is_one_answer(type_in, ask, workshop):
    store = open_stash(str(workshop))
    assert ask("fits", CARB_TURNED) == json.loads(json.dumps(judged(store, CARB_TURNED).as_dict()))
    store.close()


def test_fits_json_has_what_a_program_needs(ask):
    answer = ask("fits", CARB_TURNED)
    assert (answer["design"], answer["lot"]) == ("carb-90", CARB_TURNED)
    early = next(fit for fit in answer["fits"] if fit["model"] == "early")
    assert early["verdict"] == "with_companions"
    assert [(each["position"], each["design"], each["lots"]) for each in early["companions"]] == [
        ("boot", "boot-90", [BOOTS])
    ]
    assert {"position", "from_year", "to_year", "work", "minutes", "claims", "open"} <= set(early)
    assert {"verdict", "evidence", "origin", "source", "reason", "beaten_by"} <= set(early["claims"][0])
    assert {fit["machine"] for fit in answer["machines"]} >= {RUNNER, PROJECT}
    assert answer["gaps"]


def test_fits_names_companions_and_where_they_lie(type_in):
    shown = " ".join(type_in("fits", CARB_TURNED).stdout.split())
    assert "fits with companions" in shown
    assert "turned boot" in shown
    assert BOOTS in shown


def test_fits_takes_a_number_and_a_design_alike(ask):
    assert ask("fits", "FN-11.120-A")["fits"] == ask("fits", "carb-0")["fits"]


def test_a_number_of_two_makers_is_asked_back(type_in, ask):
    result = type_in("fits", "77.100")
    assert result.exit_code == 2
    assert "fen:77.100" in result.stderr
    assert ask("fits", "rud:77.100")["design"] == "clip-10"


def test_a_part_nobody_knows_anything_about_ends_with_no(type_in):
    result = type_in("fits", MYSTERY)
    assert result.exit_code == 1
    assert "not identified" in result.stdout


def test_a_name_nobody_has_ends_with_2(type_in, ask):
    assert type_in("fits", "no-such-thing").exit_code == 2
    assert ask("fits", "no-such-thing", ends=2)["error"]["code"] == "not_found"


def test_fits_all_has_a_line_for_every_design(type_in, ask):
    designs = [answer["design"] for answer in ask("fits", "--all")]
    assert designs == ["boot-0", "boot-90", "carb-0", "carb-90", "clip-10", "module-55", "module-85"]
    shown = type_in("fits", "--all").stdout
    assert all(design in shown for design in designs)
    assert "bolts on: Early" in shown


@pytest.mark.parametrize("words", [[], [CARBS, "--all"]])
def test_fits_takes_one_part_or_all(words, type_in):
    assert type_in("fits", *words).exit_code == 2


def test_a_long_reason_is_cut_unless_asked_for_in_full(type_in):
    short, full = (" ".join(type_in("fits", "carb-0", *more).stdout.split()) for more in ([], ["--full"]))
    assert len(full) >= len(short)
    assert " more (" not in full


def test_gaps_say_what_the_shelf_can_finish_and_where_it_lies(type_in):
    shown = type_in("gaps").stdout
    head, *_ = shown.split("\n\n")
    assert head.startswith("What the shelf can finish")
    assert PROJECT in head
    for lot in (CARB_TURNED, CLIPS):
        assert lot in head
    assert "Bin A" in head


def test_gaps_json_has_what_a_program_needs(ask):
    found = ask("gaps")
    gap = next(gap for gap in found if gap["machine"] == PROJECT)
    assert gap["gap"] == f"machine:{PROJECT}"
    assert gap["fillable"] is True
    short = {row["position"]: row for row in gap["short"]}
    assert short["clip"]["quantity"] == 2
    candidate = short["carburettor"]["candidates"][0]
    assert {"lot": CARB_TURNED, "design": "carb-90", "verdict": "bolts_on", "place": BIN_A}.items() <= candidate.items()


def test_a_gap_the_shelf_can_not_fill_lists_its_candidates_and_why_not(type_in, tmp_path):
    tables = tmp_path / "tables"
    tables.mkdir()
    worn = first_coded("W0RN")
    (tables / "fitted.csv").write_text(
        f"machine,position,state\n{RUNNER},carburettor,missing\n{RUNNER},module,faulty\n{RUNNER},boot,missing\n"
    )
    (tables / "lots.csv").write_text(
        f"code,kind,design,quantity,condition,place\n{worn},module,module-55,1,needs_work,{BIN_B}\n"
    )
    assert type_in("load", str(tables)).exit_code == 0
    brief = " ".join(type_in("gaps").stdout.split("Further away")[1].split())
    assert f"1 of 3 positions boot; module ({worn}: needs work first)" in brief
    shown = " ".join(type_in("gaps", "--full").stdout.split("Further away")[1].split())
    assert f"{CARBS} bolts on in Shelf \u203a Bin A" in shown
    assert f"{worn} bolts on (needs work first)" in shown


def test_what_is_one_part_short_stands_apart(type_in, tmp_path):
    (tmp_path / "fitted.csv").write_text(
        f"machine,position,state\n{RUNNER},carburettor,missing\n{RUNNER},module,faulty\n"
    )
    type_in("load", str(tmp_path / "fitted.csv"))
    brief, full = (type_in("gaps", *more).stdout.split("One part short")[1] for more in ([], ["--full"]))
    assert " ".join(brief.split()).endswith("1 of 2 positions module")
    row = next(line for line in full.splitlines() if "ignition module" in line)
    assert row.split()[-1] == "none"


def test_a_wanted_model_and_its_best_example_stand_in_one_row(type_in):
    shown = type_in("gaps").stdout
    assert shown.count("Ruddlow Late") == 1
    assert f"({PROJECT}, wanted)" in shown


def test_an_empty_stash_can_finish_nothing_yet(tmp_path):
    file = str(tmp_path / "own.sqlite")
    CliRunner().invoke(main, ["load", "--starter", "--db", file])
    result = CliRunner().invoke(main, ["gaps", "--db", file])
    assert result.exit_code == 0
    assert "nothing yet" in result.stdout


def test_a_machine_as_it_left_the_factory_goes_together(type_in, ask):
    result = type_in("check", RUNNER)
    assert result.exit_code == 0
    assert "It goes together." in result.stdout
    assert ask("check", RUNNER)["ok"] is True


def test_a_module_above_the_rated_speed_stops_it(type_in, ask, tmp_path):
    (tmp_path / "fitted.csv").write_text(f"machine,position,state,design\n{RUNNER},module,present,module-85\n")
    type_in("load", str(tmp_path / "fitted.csv"))
    result = type_in("check", RUNNER)
    assert result.exit_code == 1
    assert "STOP" in result.stdout
    assert "It is not right" in result.stdout
    findings = ask("check", RUNNER, ends=1)["findings"]
    assert findings[0]["level"] == "stop"
    assert {"level", "position", "mate", "text", "do"} <= set(findings[0])


def test_a_build_is_checked_as_planned(ask):
    answer = ask("check", "winter")
    assert {"ok", "findings", "sums"} <= set(answer)


def test_checking_what_is_not_there_ends_with_2(type_in):
    assert type_in("check", "nobody").exit_code == 2


@pytest.mark.parametrize(
    ("text", "kind"),
    [(CARBS, "lot"), (BIN_A, "place"), (RUNNER, "machine"), ("FN-41.055", "design"), ("Late", "model")],
)
def test_find_takes_codes_numbers_and_words(ask, text, kind):
    assert kind in {hit["type"] for hit in ask("find", text)}


def test_find_forgives_how_a_code_is_typed(ask):
    typed = f"{CARBS[:3].lower()} {CARBS[3:].lower()}".replace("0", "o")
    assert [hit["code"] for hit in ask("find", *typed.split())] == [CARBS]


def test_find_shows_where_a_thing_lies(type_in):
    shown = type_in("find", "turned", "carburettor").stdout
    assert CARB_TURNED in shown
    assert "Shelf \u203a Bin A" in shown


def test_nothing_found_ends_with_no(type_in, ask):
    result = type_in("find", "unobtainium")
    assert result.exit_code == 1
    assert "Nothing found" in result.stdout
    assert ask("find", "unobtainium", ends=1) == []


def test_identify_names_the_design_once_it_is_clear(type_in, ask):
    answer = ask("identify", "carb", "--tell", "rotation=90", "--measure", "spigot_mm=20.0")
    assert answer["ranking"][0]["design"] == "carb-90"
    assert {"none_of_these", "next", "stop"} <= set(answer)
    shown = type_in("identify", "carb", "-t", "rotation=90").stdout
    assert shown.index("carb-90") < shown.index("none of these")


def test_identify_asks_the_next_question(ask):
    answer = ask("identify", "carb")
    assert answer["stop"] is None
    assert answer["next"]["measure"] == "rotation"
    assert answer["next"]["bits"] > 0


@pytest.mark.parametrize("given", ["rotation", "=90", "rotation=", "no_such=1", "spigot_mm=wide"])
def test_an_answer_that_can_not_be_read_ends_with_2(type_in, given):
    assert type_in("identify", "carb", "--measure", given).exit_code == 2


def test_a_kind_that_is_not_there_ends_with_2_and_names_those_that_are(type_in):
    result = type_in("identify", "wheel")
    assert result.exit_code == 2
    assert "carb" in result.stderr


def test_the_catalogue_is_looked_over_instead_of_a_machine(type_in, ask):
    assert ask("check", "--catalogue")["ok"] is True
    assert "Nothing to mend" in type_in("check", "--catalogue").output
    assert type_in("check").exit_code == 2
    assert type_in("check", RUNNER, "--catalogue").exit_code == 2
