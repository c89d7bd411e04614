"""Which base is nearest. That the kind of fibre goes before superwash, and that before shares, is common practice, no
source; the shares themselves are arithmetic."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recipes.dyeing.nearness import Near, NothingNear, Yarn, nearest, shared_percent

SOCK = Yarn("Moor Sock", (("wool", 750), ("nylon", 250)), True, 400)
DK = Yarn("Moor DK", (("wool", 1000),), True, 225)
WOOLLY = Yarn("Fell Worsted", (("wool", 1000),), False, 200)
COTTON = Yarn("Dune", (("cotton", 1000),), None, 330)
UNKNOWN = Yarn("Mill ends")


def test_the_sentence_says_what_is_the_same():
    near = nearest(DK, [COTTON, SOCK]).value

    assert near.place == 1
    # Of 750 and 1000 tenths of wool the smaller is 75 %; Moor DK has no nylon.
    assert near.shared_percent == 75
    assert near.sentence == (
        "No way of dyeing it on Moor DK yet. Nearest is on Moor Sock: 75 % of its fibre is the same; superwash both; "
        "400 m in 100 g, and this has 225."
    )


@pytest.mark.parametrize(
    ("wanted", "among", "name"),
    [
        # All wool and not superwash has more of the fibre, and still the superwash one is nearer.
        (DK, [WOOLLY, SOCK], "Moor Sock"),
        # Wool is nearer to wool than cotton is, whatever is known of superwash.
        (WOOLLY, [COTTON, SOCK], "Moor Sock"),
        # Of the same kind, superwash and shares, the nearer metres.
        (SOCK, [Yarn("a", SOCK.fibres, True, 800), Yarn("b", SOCK.fibres, True, 425)], "b"),
        # Equally near: the one in front.
        (SOCK, [Yarn("a", SOCK.fibres, True, 400), Yarn("b", SOCK.fibres, True, 400)], "a"),
        # Unknown is nearer than known to be different.
        (SOCK, [COTTON, UNKNOWN], "Mill ends"),
    ],
)
def test_what_goes_before_what(wanted, among, name):
    assert nearest(wanted, among).value.yarn.name == name


def test_what_is_not_known_is_said():
    words = Near(0, UNKNOWN, SOCK).words

    assert "the fibres of Mill ends are not known" in words
    assert "whether both are superwash is not known" in words


def test_the_working_shows_every_base_that_was_looked_at():
    working = nearest(DK, [COTTON, SOCK]).working

    assert (
        "Dune: mostly cellulose, and this is mostly protein; none of its fibre is the same"
        in working.substitution
    )
    assert working.result == "Moor Sock"
    assert "common practice, no source" in str(working.source)


def test_without_a_base_there_is_none_near():
    with pytest.raises(NothingNear):
        nearest(DK, [])


shares = st.lists(
    st.tuples(st.sampled_from(["wool", "silk", "nylon", "cotton"]), st.integers(1, 1000)),
    min_size=1, max_size=4, unique_by=lambda pair: pair[0],
).map(tuple)  # fmt: skip


@given(one=shares, other=shares)
def test_sharing_goes_both_ways_and_is_never_more_than_all(one, other):
    a, b = Yarn("a", one), Yarn("b", other)

    assert shared_percent(a, b) == shared_percent(b, a)
    assert 0 <= shared_percent(a, b) <= Fraction(sum(share for _, share in one), 10)
    assert shared_percent(a, a) == Fraction(sum(share for _, share in one), 10)


@given(fibres=shares, others=st.lists(shares, max_size=4))
def test_the_same_yarn_is_always_nearest(fibres, others):
    here = Yarn("here", fibres, True, 400)
    among = [
        *(Yarn(f"{at}", each, True, 400) for at, each in enumerate(others)),
        Yarn("same", fibres, True, 400),
    ]

    near = nearest(here, among).value

    assert (
        near.yarn.name == "same"
        or near.yarn.fibres == fibres
        or near.shared_percent == shared_percent(here, here)
    )
