"""Skeins drawn from their colours."""

from __future__ import annotations

import pytest

from dyehouse.studio.drawing import swatch_svg
from dyehouse.studio.swatches import Kind, draw_skein, skein_photo


@pytest.mark.parametrize("kind", list(Kind))
def test_the_same_seed_draws_the_same_skein(kind: Kind):
    chips = ["#2f5d6b", "#c9cfc4", "#1d3a4a"]

    once, again, other = (
        draw_skein(chips, kind=kind, seed=seed, width=240, height=180) for seed in (7, 7, 8)
    )

    assert once.tobytes() == again.tobytes()
    assert once.tobytes() != other.tobytes()


def test_the_middle_of_the_picture_has_the_colour_of_the_yarn():
    picture = draw_skein(["#3b2a4f"], kind="solid", seed=1, width=240, height=180)

    red, green, blue = picture.resize((1, 1), box=(80, 80, 160, 100)).getpixel((0, 0))

    assert blue > red > green


def test_a_skein_without_a_colour_is_not_drawn():
    with pytest.raises(ValueError, match="at least one colour"):
        draw_skein([])


def test_the_photo_comes_with_a_thumbnail():
    photo = skein_photo(["#b9541f"], seed="K7M2X", width=960, height=720)

    assert (photo.width, photo.height) == (960, 720)
    assert len(photo.thumbnail) < len(photo.jpeg)


def test_a_swatch_shows_each_of_its_colours_and_nothing_that_is_no_colour():
    drawn = swatch_svg(["#b9541f", 'red"/><script>', "#1d3a4a"])

    assert 'fill="#b9541f"' in drawn
    assert 'fill="#1d3a4a"' in drawn
    assert "script" not in drawn
