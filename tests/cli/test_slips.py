"""Slips at the keyboard: each is bad input that says how to mend it."""

import pytest
from click.testing import CliRunner

from stash.cli import main


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["idenify", "piston"], "Did you mean identify"),
        (["quite-other"], "No such command 'quite-other'."),
        (["find", ""], "Say what to look for"),
        (["find", " ", ""], "Say what to look for"),
        (["fits", ""], "Name one part by REF"),
        (["fits"], "Name one part by REF"),
        (["fits", "--all", "6202"], "Name one part by REF"),
    ],
)
def test_a_slip_is_bad_input_that_says_how_to_mend_it(words, told):
    answer = CliRunner().invoke(main, words)
    assert answer.exit_code == 2
    assert told in answer.stderr
