"""``plan``: the builds that can be finished, in words and as JSON."""

from __future__ import annotations

import signal
import threading

import pytest
from click.testing import CliRunner

from stash.cli import main
from stash.cli.stopping import stoppable
from tests.services.workshop import BOOTS, CARB_TURNED, CLIPS, DONOR, PROJECT, RUNNER


def test_a_plan_says_what_to_take_and_where_it_lies(type_in):
    result = type_in("plan")
    assert result.exit_code == 0
    assert "Completes 1 of 1 build" in result.stdout
    assert "Proven" in result.stdout
    for word in ("Winter build (winter)", CARB_TURNED, CLIPS, "Shelf \u203a Bin A", "bolts on"):
        assert word in result.stdout


def test_plan_json_has_what_a_program_needs(ask):
    made = ask("plan")
    assert made["status"] == "optimal"
    assert made["completed"] == ["winter"]
    assert {"value", "money", "minutes", "bound", "surplus", "best_arrival"} <= set(made)
    (build,) = made["builds"]
    parts = {part["position"]: part for part in build["parts"]}
    assert parts["clip"]["lot"] == CLIPS
    assert parts["clip"]["quantity"] == 2
    assert {"position", "design", "lot", "donor", "buy", "quantity", "verdict"} <= set(parts["clip"])
    assert build["missing"] == []


def test_what_can_not_be_completed_says_what_is_missing_and_ends_with_no(type_in, ask, tmp_path):
    (tmp_path / "fitted.csv").write_text(f"machine,position,state\n{PROJECT},boot,missing\n{PROJECT},module,missing\n")
    (tmp_path / "lots.csv").write_text(f"code,kind,quantity\n{CLIPS},clip,1\n")
    for name in ("fitted.csv", "lots.csv"):
        assert type_in("load", str(tmp_path / name)).exit_code == 0
    result = type_in("plan")
    assert result.exit_code == 1
    assert "Completes 0 of 1 build" in result.stdout
    row = next(line for line in result.stdout.splitlines() if "Winter build" in line)
    assert "clip" in row
    assert ask("plan", ends=1)["builds"][0]["missing"][0]["position"] == "clip"


def test_gaps_are_planned_when_asked_for(ask, tmp_path, type_in):
    (tmp_path / "fitted.csv").write_text(f"machine,position,state\n{RUNNER},carburettor,missing\n")
    type_in("load", str(tmp_path / "fitted.csv"))
    assert ask("plan")["completed"] == ["winter"]
    assert f"machine:{RUNNER}" in ask("plan", "--gaps")["completed"]
    assert RUNNER in type_in("plan", "--gaps").stdout


def test_without_a_build_there_is_nothing_to_plan(tmp_path):
    file = str(tmp_path / "own.sqlite")
    CliRunner().invoke(main, ["load", "--starter", "--db", file])
    result = CliRunner().invoke(main, ["plan", "--db", file])
    assert result.exit_code == 1
    assert "no open build" in result.stdout


@pytest.fixture(scope="module")
def demo_file(tmp_path_factory):
    file = tmp_path_factory.mktemp("demo") / "demo.sqlite"
    assert CliRunner().invoke(main, ["demo", "--no-serve", "--db", str(file)]).exit_code == 0
    return str(file)


def test_the_best_plan_of_the_demo_beats_one_build_after_the_other(demo_file):
    shown = CliRunner().invoke(main, ["plan", "--db", demo_file]).stdout
    assert "Completes 2 of 4 builds" in shown
    assert "One after the other in order, 1 would be completed, worth 120 less." in shown
    assert "One thing to look out for" in shown


def test_a_donor_is_named_with_what_it_gives(demo_file, monkeypatch):
    monkeypatch.setenv("COLUMNS", "300")
    shown = CliRunner().invoke(main, ["plan", "--donors", "--buy", "--work", "--db", demo_file]).stdout
    assert "Donor SA7AV8: " in shown
    assert "donor SA7AV8, nobody has looked yet" in shown


@pytest.mark.parametrize("seconds", ["0", "-1", "soon"])
def test_time_to_think_is_a_number_above_nought(type_in, seconds):
    assert type_in("plan", "--seconds", seconds).exit_code == 2


def test_what_if_shows_what_more_would_give(type_in, ask):
    said = type_in("plan", "--what-if", "work", "--what-if", "buy=25").stdout
    assert "work is allowed" in said
    assert "up to 25.00 may be spent" in said
    found = ask("plan", "--what-if", f"strip:{DONOR}")["what_if"]
    assert [(each["more"], each["gained"], each["money"]) for each in found] == [(f"strip:{DONOR}", [], 0)]


@pytest.mark.parametrize("given", [("--what-if", "moon"), ("--up-to", "much"), ("--strip", PROJECT), ("--strip", "X")])
def test_what_can_not_be_allowed_is_bad_input(type_in, given):
    assert type_in("plan", *given).exit_code == 2


def test_the_lists_say_what_to_take_and_what_to_check_before_paying(type_in, tmp_path, ask):
    (tmp_path / "builds.csv").write_text("key,name,model,status\nbare,From nothing,early,open\n")
    assert type_in("load", str(tmp_path / "builds.csv")).exit_code == 0
    said = type_in("plan", "--up-to", "50", "--lists").stdout
    for word in ("On the way along the bins", "clip of From nothing", "ask for: Fennaby FN-41.055", "30.00"):
        assert word in said
    assert "check:   rev limit 5500 rpm" in said
    assert "not:     fast module has rev limit 8500 rpm" in said
    assert "mind:    Check that the switch stops it." in said
    made = ask("plan", "--buy")
    assert [each["design"] for each in made["buy_list"]] == ["module-55", "boot-0"]
    assert made["pick_list"][0]["lot"]


def test_one_part_that_would_finish_a_build_is_listed_too(type_in, tmp_path):
    (tmp_path / "fitted.csv").write_text(f"machine,position,state\n{PROJECT},boot,missing\n")
    (tmp_path / "lots.csv").write_text(f"code,kind,condition\n{BOOTS},boot,core\n")
    for name in ("fitted.csv", "lots.csv"):
        assert type_in("load", str(tmp_path / name)).exit_code == 0
    said = type_in("plan", "--lists").stdout
    assert "Would finish what the plan can't" in said
    assert "turned boot, 6.00, for boot of Winter build" in said


def test_a_named_donor_may_be_stripped(type_in, tmp_path):
    (tmp_path / "builds.csv").write_text("key,name,model,status\nbare,From nothing,early,open\n")
    (tmp_path / "fitted.csv").write_text(
        f"machine,position,state,design,condition\n{DONOR},module,present,module-55,new\n"
    )
    for name in ("builds.csv", "fitted.csv"):
        assert type_in("load", str(tmp_path / name)).exit_code == 0
    assert "Off donors" in type_in("plan", "--strip", DONOR.lower(), "--lists").stdout


def test_a_plan_is_reserved_from_the_command_line(type_in, ask):
    assert "Reserved 1 lot " in type_in("plan", "--reserve").stderr
    assert all(part["decided"] for part in ask("plan")["builds"][0]["parts"])


def test_ctrl_c_stops_the_thinking_and_a_second_one_the_program():
    with stoppable() as stopped:
        assert not stopped()
        signal.raise_signal(signal.SIGINT)
        assert stopped()
        with pytest.raises(KeyboardInterrupt):
            signal.raise_signal(signal.SIGINT)


def test_outside_the_main_thread_nobody_can_press_it():
    told = []

    def ask_there():
        with stoppable() as stopped:
            told.append(stopped())

    there = threading.Thread(target=ask_there)
    there.start()
    there.join()
    assert told == [False]
