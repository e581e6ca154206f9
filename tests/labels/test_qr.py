from __future__ import annotations

from collections.abc import Callable

import pytest
import segno
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from qrcode.main import QRCode
from qrcode.util import QRData
from segno.encoder import DataOverflowError

from labels import qr
from labels.errors import LabelError

ADDRESSES = ("HTTP://STASH.LOCAL/Q/", "HTTP://192.168.178.40:8300/Q/")
Decode = Callable[[Image.Image], list[str]]

# Source: ISO/IEC 18004, table 7, alphanumeric characters (from memory; segno carries the same table, checked below).
CAPACITIES = {
    1: {"L": 25, "M": 20, "Q": 16, "H": 10},
    2: {"L": 47, "M": 38, "Q": 29, "H": 20},
    3: {"L": 77, "M": 61, "Q": 47, "H": 35},
    4: {"L": 114, "M": 90, "Q": 67, "H": 50},
}
ANY_TEXT = st.text(alphabet=qr.ALPHABET, min_size=1, max_size=120)


def picture(symbol: qr.Symbol, pixels: int = 4, quiet: int = qr.QUIET_MODULES) -> Image.Image:
    side = symbol.modules
    image = Image.new("L", (side + 2 * quiet, side + 2 * quiet), 255)
    for y, row in enumerate(symbol.rows()):
        for x, module in enumerate(row):
            if module == "1":
                image.putpixel((x + quiet, y + quiet), 0)
    return image.resize((image.width * pixels, image.height * pixels), Image.Resampling.NEAREST)


def segno_rows(text: str, version: int, level: str) -> list[str]:
    code = segno.make_qr(text, error=level, version=version, mask=qr.MASK, boost_error=False)
    return ["".join("1" if module else "0" for module in row) for row in code.matrix]


def ends_on_a_codeword(length: int) -> bool:
    """Header, pairs, a single and the four-bit terminator fill whole bytes."""
    return (13 + 11 * (length // 2) + 6 * (length % 2) + 4) % 8 == 0


@pytest.mark.parametrize("version", CAPACITIES)
def test_capacities_are_those_of_the_standard(version: int) -> None:
    assert {level: qr.capacity(version, level) for level in "LMQH"} == CAPACITIES[version]


@pytest.mark.parametrize("version", range(1, qr.MAX_VERSION + 1))
@pytest.mark.parametrize("level", "LMQH")
def test_a_second_encoder_has_the_same_capacities(version: int, level: str) -> None:
    most = qr.capacity(version, level)
    segno.make_qr("A" * most, version=version, error=level)
    with pytest.raises(DataOverflowError):
        segno.make_qr("A" * (most + 1), version=version, error=level)


@pytest.mark.parametrize("length", range(1, qr.capacity(qr.MAX_VERSION, "L") + 1))
def test_a_second_encoder_chooses_the_same_version_and_level(length: int) -> None:
    code = segno.make_qr("A" * length, error="L", boost_error=True)
    assert qr.version_and_level(length) == (code.version, code.error)


def test_the_everyday_addresses_take_version_2() -> None:
    assert [qr.version_and_level(len(front) + 6) for front in ADDRESSES] == [(2, "Q"), (2, "M")]


@pytest.mark.parametrize("length", [n for n in range(1, 200) if not ends_on_a_codeword(n)])
def test_a_second_encoder_draws_the_same_symbol(length: int) -> None:
    text = ("HTTP://192.168.178.40:8300/Q/7K3QX9 $%*+-./:" * 5)[-length:]
    symbol = qr.symbol(text)
    assert symbol.rows() == segno_rows(text, symbol.version, symbol.level)


@pytest.mark.parametrize("length", [n for n in range(1, 336) if ends_on_a_codeword(n)])
def test_where_the_encoders_pad_differently_the_reader_sees_the_same_text(length: int, decode: Decode) -> None:
    # The second encoder adds a byte of zeros where the stream already ends on a codeword; readers skip padding.
    text = ("HTTP://192.168.178.40:8300/Q/7K3QX9 $%*+-./:" * 8)[-length:]
    assert decode(picture(qr.symbol(text))) == [text]


@settings(deadline=None)
@given(ANY_TEXT)
def test_adding_symbols_gives_what_the_library_draws(text: str) -> None:
    version, level = qr.version_and_level(len(text))
    code = QRCode(version=version, error_correction=qr._LEVELS[level], mask_pattern=qr.MASK, border=0)
    code.add_data(QRData(text.encode(), mode=2), optimize=0)
    code.make(fit=False)
    assert qr.symbol(text).rows() == ["".join("1" if module else "0" for module in row) for row in code.modules]


@settings(max_examples=300, deadline=None)
@given(st.sampled_from(ADDRESSES), st.text(alphabet="0123456789ABCDEFGHJKMNPQRSTVWXYZ", min_size=6, max_size=6))
def test_every_symbol_is_read_back(front: str, code: str) -> None:
    import zxingcpp

    found = zxingcpp.read_barcodes(picture(qr.symbol(front + code)), formats=zxingcpp.BarcodeFormat.QRCodeModel2)
    assert [one.text for one in found] == [front + code]
    assert {one.ec_level for one in found} == {qr.symbol(front + code).level}


def test_a_symbol_has_17_and_4_times_its_version_modules() -> None:
    symbol = qr.symbol("HTTP://STASH.LOCAL/Q/7K3QX9")
    assert (symbol.modules, qr.modules_of(27), len(symbol.rows()), len(symbol.rows()[0])) == (25, 25, 25, 25)


def test_lower_case_is_refused_with_the_letter() -> None:
    with pytest.raises(LabelError, match="lower-case letter 't'") as caught:
        qr.symbol("HtTP://STASH.LOCAL/Q/7K3QX9")
    assert "upper case" in caught.value.hint


@pytest.mark.parametrize("stranger", ["Ä", "?", "\n", "#", "é"])
def test_characters_outside_alphanumeric_mode_are_refused(stranger: str) -> None:
    with pytest.raises(LabelError, match="alphanumeric mode cannot encode"):
        qr.symbol(f"HTTP://STASH{stranger}/Q/7K3QX9")


def test_an_empty_address_is_refused() -> None:
    with pytest.raises(LabelError, match="empty"):
        qr.symbol("")


def test_an_address_too_long_for_a_label_is_refused_with_the_limit() -> None:
    with pytest.raises(LabelError, match=r"336 characters .* at most 335"):
        qr.symbol("A" * 336)
