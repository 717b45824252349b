"""Uncommon ways to write numbers, and plain ones that only look like them."""

from __future__ import annotations

import pytest

from feelcheck.formats._plain_numbers import plain_numbers


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("0,5;1.234,5\n0,6;1.235,5\n0,7;1.236,5\n", "0,5;1234,5\n0,6;1235,5\n0,7;1236,5\n"),
        ("0.5;1,234.5\n0.6;1,235.5\n0.7;1,236.5\n", "0.5;1234.5\n0.6;1235.5\n0.7;1236.5\n"),
        ('"0.5","1,234"\n"0.6","1,235"\n"0.7","1,236"\n', '"0.5","1234"\n"0.6","1235"\n"0.7","1236"\n'),
        ("0.5,1'234.5\n0.6,1'235\n0.7,-1'236.5\n", "0.5,1234.5\n0.6,1235\n0.7,-1236.5\n"),
        ("0.5\t1 234.5\n0.6\t-1 235\n0.7\t12 236\n", "0.5\t1234.5\n0.6\t-1235\n0.7\t12236\n"),
        ("1.5D-03,2\n1.6d+00,2\n1.7D2,2\n", "1.5e-03,2\n1.6e+00,2\n1.7e2,2\n"),
        ("1.5×10^-3;2\n1.6 x 10^0;2\n1.7*10^2;2\n", "1.5e-3;2\n1.6e0;2\n1.7e2;2\n"),
        ("1.5×10⁻³;2\n1.6×10⁰;2\n1.7×10²;2\n", "1.5e-3;2\n1.6e0;2\n1.7e2;2\n"),
        ("0,0x1F\n1,0x20\n2,-0x21\n", "0,31\n1,32\n2,-33\n"),
        ("12:30:00,250,5\n12:30:00,251,6\n12:30:00,252,7\n", "12:30:00.250,5\n12:30:00.251,6\n12:30:00.252,7\n"),
    ],
)
def test_uncommon_numbers(text: str, plain: str) -> None:
    assert plain_numbers(text)[0] == plain


@pytest.mark.parametrize(
    "text",
    [
        "8.120,2245\n8.320,2254\n8.520,2248\n",  # commas between columns, three decimals
        "# a; b\n8.120,2245\n8.320,2254\n8.520,2248\n",
        "1.234;5\n1.235;6\n1.236;7\n",  # nothing tells that the point groups
        "100 346\n101 347\n102 348\n",  # two columns
        "1.000 200\n1.001 201\n1.002 202\n",
        "12:30:00,512\n12:30:00,498\n12:30:01,505\n12:30:01,495\n",  # clock and converter counts
        "0,5;1,25\n0,6;1,26\n0,7;1,27\n",
        "model 3D5 was used\n0,1\n1,2\n2,3\n",
    ],
)
def test_plain_numbers_stay(text: str) -> None:
    assert plain_numbers(text) == (text, ())
