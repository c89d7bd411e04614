"""Fibre lines by market. The source of each rule stands beside its check."""

from __future__ import annotations

import pytest

from dyehouse.paper.composition import (
    Market,
    NotAFibreName,
    OrnamentRefused,
    OtherFibresRefused,
    Said,
    SharesDoNotSum,
    TracesRefused,
    fibre_from_name,
    fibre_line,
    found_between,
    market_of,
    us_act,
)


def us(shares, **options):
    return fibre_line(shares, Market.US, **options).line


def eu(shares, **options):
    return fibre_line(shares, Market.EU, **options).line


@pytest.mark.parametrize(
    ("shares", "act"),
    [
        # 15 USC 68(b), 68(d); 16 CFR 303.2(c)
        ({"wool": 750, "nylon": 250}, "Wool Act"),
        ({"cotton": 1000}, "Textile Act"),
        # Alpaca is wool to the Act: 15 USC 68(b)
        ({"alpaca": 700, "silk": 300}, "Wool Act"),
        # Yak hair is not: 15 USC 68(b)
        ({"yak": 500, "silk": 500}, "Textile Act"),
    ],
)
def test_any_wool_decides_which_us_act_applies(shares, act):
    assert us_act(shares).startswith(act)
    assert act in fibre_line(shares, Market.US).rule


@pytest.mark.parametrize(
    "shares",
    [{"wool": 750, "nylon": 200, "metallic": 40}, {"wool": 1001}, {"wool": 1000, "nylon": 0}, {}],
)
def test_shares_that_are_not_a_hundred_percent_are_refused(shares):
    # Regulation (EU) No 1007/2011 Art. 9(1): all fibres
    with pytest.raises(SharesDoNotSum, match="100 %"):
        fibre_line(shares, Market.EU)


def test_the_largest_share_stands_first():
    # 16 CFR 303.42(a); Regulation (EU) No 1007/2011
    assert us({"nylon": 250, "wool": 750}) == "75% Wool, 25% Nylon"
    assert eu({"nylon": 250, "wool": 750}) == "75 % wool, 25 % nylon"


def test_us_fibres_under_five_percent_are_other_fiber_and_stand_last():
    # 15 USC 68b(a)(2)(A)
    assert us({"wool": 800, "nylon": 160, "acrylic": 40}) == "80% Wool, 16% Nylon, 4% Other Fiber"
    assert us({"wool": 920, "acrylic": 40, "polyester": 40}) == "92% Wool, 8% Other Fibers"


def test_us_a_fibre_at_exactly_five_percent_is_named():
    # 15 USC 68b(a)(2)(A): other fibre only below 5 %
    assert us({"wool": 750, "nylon": 200, "metallic": 50}) == "75% Wool, 20% Nylon, 5% Metallic"


def test_us_wool_is_named_however_little_there_is():
    # 15 USC 68b(a)(2)(A): wool has no threshold
    assert us({"cotton": 970, "wool": 30}) == "97% Cotton, 3% Wool"
    assert us({"cotton": 930, "wool": 30, "acrylic": 40}) == "93% Cotton, 3% Wool, 4% Other Fiber"


def test_us_a_small_fibre_with_a_function_may_be_named():
    # 16 CFR 303.3
    shares = {"cotton": 960, "elastane": 40}

    assert us(shares) == "96% Cotton, 4% Other Fiber"
    assert us(shares, said={"elastane": Said.FUNCTION}) == "96% Cotton, 4% Spandex"


def test_us_hair_of_other_animals_is_named_with_its_animal():
    # 16 CFR 303.6(b)
    assert us({"wool": 700, "yak": 300}) == "70% Wool, 30% Yak Hair"


def test_a_hundred_percent_is_said_of_one_fibre_only():
    # 16 CFR 300.17
    assert us({"wool": 980, "nylon": 20}) == "98% Wool, 2% Other Fiber"
    assert us({"wool": 1000}) == "100% Wool"


def test_eu_names_every_fibre_unless_it_was_hard_to_state():
    shares = {"wool": 750, "nylon": 200, "metallic": 50}

    # Regulation (EU) No 1007/2011 Art. 9(1)
    assert eu(shares) == "75 % wool, 20 % nylon, 5 % metallic fibre"
    # Art. 9(2)(a), from memory: up to and including 5 %
    assert eu(shares, said={"metallic": Said.OTHER}) == "75 % wool, 20 % nylon, 5 % other fibres"


def test_eu_other_fibres_come_to_fifteen_percent_at_most():
    small = dict.fromkeys(("acrylic", "viscose", "polyester"), Said.OTHER)

    # Art. 9(2)(b), from memory
    fourteen = {"wool": 860, "acrylic": 40, "viscose": 50, "polyester": 50}
    assert eu(fourteen, said=small) == "86 % wool, 14 % other fibres"
    sixteen = {"wool": 840, "acrylic": 60, "viscose": 50, "polyester": 50}
    with pytest.raises(OtherFibresRefused, match="16 %"):
        eu(sixteen, said=small)
    with pytest.raises(OtherFibresRefused, match="5 % is the most"):
        eu({"wool": 940, "nylon": 60}, said={"nylon": Said.OTHER})


def test_uk_lines_follow_the_councils_example():
    # Form of the council guide: "cotton 80%, polyester 15%, nylon 5%"; SI 2012/1102
    line = fibre_line({"nylon": 50, "cotton": 800, "polyester": 150}, Market.UK).line

    assert line == "Cotton 80%, polyester 15%, nylon 5%"


def test_tenths_of_a_percent_are_kept():
    assert eu({"wool": 725, "nylon": 275}) == "72.5 % wool, 27.5 % nylon"


def test_a_country_without_a_known_rule_gets_every_fibre_and_is_told():
    line = fibre_line({"wool": 980, "nylon": 20}, market_of("NZ"))

    assert line.line == "98 % wool, 2 % nylon"
    assert "not known" in line.rule


@pytest.mark.parametrize(
    ("country", "market"),
    [("US", Market.US), ("GB", Market.UK), ("IE", Market.EU), ("NO", Market.OTHER), ("", Market.OTHER)],
)
def test_the_market_follows_the_country(country, market):
    assert market_of(country) is market


@pytest.mark.parametrize(
    ("typed", "instead"),
    [("merino", "wool"), ("bamboo", "viscose"), ("Rayon", "viscose"), ("spandex", "elastane")],
)
def test_words_that_are_no_fibre_names_are_refused_with_the_name_to_write(typed, instead):
    # Regulation (EU) No 1007/2011 Annex I
    with pytest.raises(NotAFibreName, match=instead) as refused:
        fibre_from_name(typed)

    assert refused.value.instead == instead


@pytest.mark.parametrize(
    ("typed", "slug"),
    [
        ("polyamide", "nylon"),
        ("nylon", "nylon"),
        ("Linen", "linen"),
        ("flax", "linen"),
        ("true hemp", "hemp"),
        ("yak", "yak"),
    ],
)
def test_names_of_annex_i_are_read(typed, slug):
    # Regulation (EU) No 1007/2011 Annex I, numbers 30, 7, 8 and 2
    assert fibre_from_name(typed).slug == slug


def test_a_word_nobody_knows_is_refused_with_examples():
    with pytest.raises(NotAFibreName, match="wool, silk or nylon"):
        fibre_from_name("moonbeam")


# --- What may be left out, and what a test may find -------------------------------------------------------------------


def test_us_decoration_up_to_five_percent_is_left_out_and_said():
    # 15 USC 68b(a)(2)(A); 16 CFR 300.16, 300.17
    sparkle = {"wool": 960, "metallic": 40}

    assert us(sparkle, said={"metallic": Said.ORNAMENT}) == "100% Wool - Exclusive of Ornamentation"
    with pytest.raises(OrnamentRefused, match="6 % is too much"):
        us({"wool": 940, "metallic": 60}, said={"metallic": Said.ORNAMENT})


def test_us_two_percent_of_another_fibre_never_become_a_hundred_percent():
    # 16 CFR 300.17: "100%" only if wholly one fibre
    assert "100%" not in us({"wool": 980, "nylon": 20}, said={"nylon": Said.TRACE})


def test_eu_decoration_up_to_seven_percent_is_left_out():
    # Regulation (EU) No 1007/2011 Art. 10
    assert eu({"wool": 930, "metallic": 70}, said={"metallic": Said.ORNAMENT}) == "100 % wool"
    with pytest.raises(OrnamentRefused, match="is too much to leave out"):
        eu({"wool": 929, "metallic": 71}, said={"metallic": Said.ORNAMENT})


def test_what_is_left_of_a_blend_is_a_hundred_percent_again():
    line = eu({"wool": 700, "nylon": 240, "metallic": 60}, said={"metallic": Said.ORNAMENT})

    # 700/940 and 240/940, in tenths that come to 100 %
    assert line == "74.5 % wool, 25.5 % nylon"


@pytest.mark.parametrize(
    ("traces", "carded", "may"),
    [
        # Regulation (EU) No 1007/2011 Art. 7(2), 20(2); carded: UK SI 1986/26 Sch. 1 para. 3
        (20, False, True),
        (21, False, False),
        (50, True, True),
        (51, True, False),
    ],
)
def test_eu_unavoidable_traces_leave_a_yarn_pure(traces, carded, may):
    shares = {"wool": 1000 - traces, "nylon": traces}
    said = {"nylon": Said.TRACE_CARDED if carded else Said.TRACE}

    if may:
        assert eu(shares, said=said) == "100 % wool"
    else:
        with pytest.raises(TracesRefused):
            eu(shares, said=said)


def test_a_test_may_find_three_points_more_or_less():
    # Regulation (EU) No 1007/2011 Art. 20(3): label 75/25, found 72.0/28.0 passes and 71.9/28.1 does not
    assert found_between({"wool": 750, "nylon": 250}, Market.EU) == {"wool": (720, 780), "nylon": (220, 280)}
    # 16 CFR 303.43, from memory: 40 % cotton may be found as 37 to 43 %
    assert found_between({"cotton": 400, "polyester": 600}, Market.US)["cotton"] == (370, 430)
    # The Wool Act names no number (15 USC 68b); one fibre has no other to be exchanged with
    assert found_between({"wool": 750, "nylon": 250}, Market.US) == {}
    assert found_between({"cotton": 1000}, Market.US) == {}
