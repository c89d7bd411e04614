"""Photos from outside, kind and hostile."""

from __future__ import annotations

import io
import struct
import zlib

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image, ImageCms

from dyehouse.studio.images import PhotoRefused, accept_photo
from dyehouse.studio.swatches import draw_skein

RED, BLUE = (200, 30, 30), (30, 30, 200)


def upload(raw: bytes, name: str = "photo.jpg") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, raw)


def encoded(picture: Image.Image, kind: str = "JPEG", **more) -> bytes:
    buffer = io.BytesIO()
    picture.save(buffer, kind, **more)
    return buffer.getvalue()


def two_halves(width: int = 400, height: int = 200) -> Image.Image:
    """Red on the left, blue on the right."""
    picture = Image.new("RGB", (width, height), RED)
    picture.paste(BLUE, (width // 2, 0, width, height))
    return picture


def reopened(jpeg: bytes) -> Image.Image:
    return Image.open(io.BytesIO(jpeg), formats=("JPEG",))


def close(colour: tuple[int, ...], to: tuple[int, int, int]) -> bool:
    return all(abs(a - b) <= 12 for a, b in zip(colour, to, strict=True))


def with_notes(picture: Image.Image, orientation: int = 1) -> bytes:
    """A JPEG with orientation, camera, place and a comment."""
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F] = "MAKER-OF-CAMERA"
    exif.get_ifd(0x8825).update({1: "N", 2: (59.0, 54.0, 0.0), 3: "E", 4: (10.0, 45.0, 0.0)})
    return encoded(picture, exif=exif, comment=b"SECRET-COMMENT")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_three_formats_are_kept_as_jpeg(kind: str):
    photo = accept_photo(upload(encoded(two_halves(), kind)))

    kept = reopened(photo.jpeg)
    assert (kept.format, kept.mode, kept.size) == ("JPEG", "RGB", (400, 200))
    assert (photo.width, photo.height) == (400, 200)


# What each value does with the first row and the first column: EXIF 2.32 (CIPA DC-008), tag 0x0112; from memory.
@pytest.mark.parametrize(
    ("orientation", "size", "top_left"),
    [
        (1, (400, 200), RED),
        (3, (400, 200), BLUE),
        (6, (200, 400), RED),
        (8, (200, 400), BLUE),
        (2, (400, 200), BLUE),
    ],
)
def test_a_photo_taken_with_the_phone_turned_is_kept_upright(
    orientation: int, size: tuple[int, int], top_left
):
    photo = accept_photo(upload(with_notes(two_halves(), orientation)))

    kept = reopened(photo.jpeg)
    assert kept.size == size
    assert close(kept.getpixel((5, 5)), top_left)
    assert kept.getexif().get(0x0112) is None


def test_place_camera_and_comment_are_gone():
    raw = with_notes(two_halves())
    assert b"MAKER-OF-CAMERA" in raw
    assert b"SECRET-COMMENT" in raw

    photo = accept_photo(upload(raw))

    for kept in (photo.jpeg, photo.thumbnail):
        assert not reopened(kept).getexif()
        assert b"Exif" not in kept
        assert b"MAKER" not in kept
        assert b"SECRET" not in kept


def test_notes_inside_a_png_are_gone():
    from PIL.PngImagePlugin import PngInfo

    notes = PngInfo()
    notes.add_text("Location", "59.9 N, 10.75 E")

    photo = accept_photo(upload(encoded(two_halves(), "PNG", pnginfo=notes)))

    assert b"59.9" not in photo.jpeg
    assert set(reopened(photo.jpeg).info) <= {
        "jfif",
        "jfif_version",
        "jfif_unit",
        "jfif_density",
        "progressive",
        "progression",
    }


def test_a_large_photo_is_made_smaller_and_keeps_its_shape():
    photo = accept_photo(upload(encoded(two_halves(4000, 3000))))

    assert reopened(photo.jpeg).size == (2400, 1800)
    assert reopened(photo.thumbnail).size == (480, 360)


def test_what_is_see_through_becomes_white():
    picture = Image.new("RGBA", (64, 64), (0, 0, 0, 0))

    kept = reopened(accept_photo(upload(encoded(picture, "PNG"))).jpeg)

    assert close(kept.getpixel((30, 30)), (255, 255, 255))


@pytest.mark.parametrize("mode", ["L", "P", "1", "I;16", "LA", "CMYK"])
def test_every_kind_of_pixel_becomes_rgb(mode: str):
    kind = "JPEG" if mode == "CMYK" else "PNG"

    assert reopened(accept_photo(upload(encoded(Image.new(mode, (64, 64)), kind))).jpeg).mode == "RGB"


def test_a_colour_profile_is_worked_in_and_left_out():
    lab_like = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()

    photo = accept_photo(upload(encoded(two_halves(), icc_profile=lab_like)))

    assert "icc_profile" not in reopened(photo.jpeg).info
    assert close(reopened(photo.jpeg).getpixel((5, 5)), RED)


def test_a_broken_colour_profile_does_not_cost_the_photo():
    photo = accept_photo(upload(encoded(two_halves(), icc_profile=b"no profile at all" * 20)))

    assert close(reopened(photo.jpeg).getpixel((5, 5)), RED)


def test_it_is_stored_under_names_that_cannot_be_guessed():
    photo = accept_photo(upload(encoded(two_halves()), "../../IMG_20260314.jpg"))

    first, second = photo.store(), photo.store()

    assert first.name != second.name
    assert "IMG" not in first.name
    with default_storage.open(first.name) as large, default_storage.open(first.thumbnail_name) as small:
        assert (large.read(), small.read()) == (photo.jpeg, photo.thumbnail)


def test_something_hidden_behind_the_picture_is_not_kept():
    raw = encoded(two_halves()) + b"PK\x03\x04<script>alert(1)</script>"

    photo = accept_photo(upload(raw))

    assert b"script" not in photo.jpeg
    assert b"PK\x03\x04" not in photo.jpeg


def bomb(width: int, height: int) -> bytes:
    """A small PNG file that unfolds to width x height dots."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    lines = zlib.compress(b"\x00" * (64 * (1 + (width + 7) // 8)), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", lines) + chunk(b"IEND", b"")


HOSTILE = {
    "nothing at all": (b"", "The file is empty."),
    "words": (b"not a picture", "This is no photo that can be read here."),
    "a drawing with script": (
        b'<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>',
        "This is no photo that can be read here.",
    ),
    "a page called photo.jpg": (
        b"<!doctype html><script>alert(1)</script>",
        "This is no photo that can be read here.",
    ),
    "another format": (encoded(Image.new("RGB", (64, 64)), "GIF"), "This is no photo that can be read here."),
    "another format, uncompressed": (
        encoded(Image.new("RGB", (64, 64)), "TIFF"),
        "This is no photo that can be read",
    ),
    "PostScript": (
        b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 64 64\n",
        "This is no photo that can be read here.",
    ),
    "an iPhone's own format": (b"\x00\x00\x00\x18ftypheic" + b"\x00" * 64, "This is a HEIC photo"),
    "a bomb": (bomb(7600, 7600), "more than 52 million"),
    "a bigger bomb": (bomb(40_000, 40_000), "dots"),
    "half a photo": (
        encoded(draw_skein(["#3b2a4f"], width=320, height=240))[:2500],
        "breaks off or is damaged",
    ),
    "a photo's head only": (encoded(two_halves())[:200], "This is no photo|breaks off or is damaged"),
    "half a PNG": (
        encoded(draw_skein(["#3b2a4f"], width=320, height=240), "PNG")[:2500],
        "breaks off or is damaged",
    ),
    "a dot": (encoded(Image.new("RGB", (1, 1))), "only 1 by 1 dots"),
    "a thread": (encoded(Image.new("RGB", (6000, 20))), "a thin strip"),
}


@pytest.mark.parametrize("kind", HOSTILE)
def test_what_is_no_photo_is_refused_with_a_sentence(kind: str):
    raw, words = HOSTILE[kind]

    with pytest.raises(PhotoRefused, match=words) as refused:
        accept_photo(upload(raw))

    assert str(refused.value).endswith(".")


def test_a_file_above_the_limit_is_refused_before_it_is_looked_at(settings):
    settings.PHOTO_LIMIT_BYTES = 1024 * 1024

    with pytest.raises(PhotoRefused, match="larger than 1 MB"):
        accept_photo(upload(b"\xff\xd8" + b"\x00" * (1024 * 1024)))


def refusal(raw: bytes) -> str:
    """What is said about it; nothing when it is kept."""
    try:
        accept_photo(upload(raw))
    except PhotoRefused as refused:
        return str(refused)
    return ""


@pytest.mark.filterwarnings("ignore::UserWarning")
def test_bytes_changed_anywhere_never_raise_anything_but_a_refusal():
    raw = with_notes(draw_skein(["#2f5d6b", "#c9cfc4"], width=160, height=120))

    for place in range(0, len(raw), max(1, len(raw) // 250)):
        damaged = bytearray(raw)
        damaged[place] ^= 0xFF
        said = refusal(bytes(damaged))
        assert said == "" or said.endswith(".")
