"""Codes: the check character of the standard, every slip caught, every way of typing forgiven."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st
from stdnum.iso7064 import mod_37_2

from stash.errors import InvalidInput
from stash.kernel.codes import (
    ALPHABET,
    PAYLOAD_LENGTH,
    check_character,
    code_from_payload,
    grouped,
    parse_code,
    require_code,
)

PAYLOADS = st.text(ALPHABET, min_size=PAYLOAD_LENGTH, max_size=PAYLOAD_LENGTH)
CODES = PAYLOADS.map(code_from_payload).filter(bool)


def test_the_check_character_is_the_standards_own_example():
    """Source: ISO/IEC 7064 MOD 37-2, example as documented by python-stdnum (G123489654321, check Y)."""
    assert check_character("G123489654321") == "Y"


@given(st.text("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ", min_size=1, max_size=20))
def test_the_check_character_agrees_with_another_library(payload):
    """Against: python-stdnum, stdnum.iso7064.mod_37_2."""
    assert check_character(payload) == mod_37_2.calc_check_digit(payload)


def test_the_alphabet_has_no_character_that_is_read_as_another():
    assert len(ALPHABET) == 32
    assert not set("ILOU") & set(ALPHABET)


@given(PAYLOADS)
def test_a_payload_makes_a_code_of_the_alphabet_or_none(payload):
    code = code_from_payload(payload)
    assert (code is None) == (check_character(payload) in "ILOU*")
    if code is not None:
        assert set(code) <= set(ALPHABET)
        assert mod_37_2.is_valid(code)


def test_payloads_whose_check_character_may_not_be_printed_are_rare_enough():
    """Five of the 37 check characters are not printed."""
    payloads = ("".join(letters) + "00" for letters in itertools.product(ALPHABET, repeat=3))
    made = [code_from_payload(payload) is not None for payload in payloads]
    assert 0.82 < sum(made) / len(made) < 0.91


@given(CODES)
def test_every_single_slip_is_caught(code):
    """Source: ISO/IEC 7064: all single substitution errors are detected."""
    for position, other in itertools.product(range(len(code)), ALPHABET):
        if other != code[position]:
            assert parse_code(code[:position] + other + code[position + 1 :]) is None


@given(CODES)
def test_every_swap_of_neighbours_is_caught(code):
    """Source: ISO/IEC 7064: all single transposition errors are detected."""
    for position in range(len(code) - 1):
        swapped = code[:position] + code[position + 1] + code[position] + code[position + 2 :]
        if swapped != code:
            assert parse_code(swapped) is None


@given(CODES, st.data())
def test_codes_are_read_however_they_are_typed(code, data):
    spelt = {"0": "0Oo", "1": "1IiLl"}
    typed = "".join(data.draw(st.sampled_from(spelt.get(c, c + c.lower()))) for c in code)
    cut = data.draw(st.integers(0, len(code)))
    gap = data.draw(st.sampled_from(["", " ", "-", "\u2013", " - ", "\t"]))
    assert parse_code(typed[:cut] + gap + typed[cut:]) == code


@pytest.mark.parametrize("text", ["", "7", "7K3QX", "7K3QX99", "7K3QXU", "7K3QX*", "7K3.QX9", "\u0663K3QX9", "ÄK3QX9"])
def test_what_is_no_code_is_none(text):
    assert parse_code(text) is None


def test_a_code_that_is_needed_is_read_or_told():
    assert require_code("aaa aaa") == "AAAAAA"
    with pytest.raises(InvalidInput, match="AAAAAB") as caught:
        require_code("AAAAAB")
    assert "slip" in caught.value.hint


def test_a_code_is_read_aloud_in_two_groups():
    assert grouped("7K3QX9") == "7K3 QX9"
