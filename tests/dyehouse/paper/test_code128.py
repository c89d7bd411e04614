"""Code 128, read back by zxing-cpp, which knows nothing of how it was made."""

from __future__ import annotations

import io

import pytest
import zxingcpp
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from dyehouse.paper.code128 import (
    NotPrintableInCode128,
    check_value,
    code_values,
    make_code128,
    modules_of,
)


@pytest.mark.parametrize(
    ("values", "check"),
    [
        # barcodeisland.com/code128: HI345678 in sets A and C; PJJ123C in set A (sums 1406 and 878)
        ([103, 40, 41, 99, 34, 56, 78], 67),
        ([103, 48, 42, 42, 17, 18, 19, 35], 54),
        # "SK-0042" as python-barcode writes it (sum 928)
        ([104, 51, 43, 13, 99, 0, 42], 1),
    ],
)
def test_the_check_is_that_of_published_examples(values, check):
    assert check_value(values) == check


def test_digits_at_an_end_go_in_pairs():
    # As python-barcode writes it: set B, then set C for the last four digits
    assert code_values("SK-0042") == [104, 51, 43, 13, 99, 0, 42]


def test_a_code_is_as_wide_as_its_characters():
    # 11 modules a character and 13 for the stop: six values after the start give 101, with quiet zones 121
    code = make_code128("SK-0042")

    assert len(modules_of("SK-0042")) == 101
    assert code.modules == 121
    # 121 modules of 3 dots at 300 dpi; at 0.25 mm a module it would be 30.25 mm
    assert code.width_um == 121 * 254


@given(st.text(st.characters(min_codepoint=32, max_codepoint=126), min_size=1, max_size=24))
def test_whatever_is_printable_reads_back(text):
    png = make_code128(text, dots=4).png

    found = zxingcpp.read_barcode(
        Image.open(io.BytesIO(png)).convert("L"), formats=zxingcpp.BarcodeFormat.Code128
    )

    assert found is not None
    assert found.text == text


@pytest.mark.parametrize("text", ["", "Ö", "a\nb"])
def test_what_has_no_place_in_set_b_is_refused(text):
    with pytest.raises(NotPrintableInCode128):
        code_values(text)
