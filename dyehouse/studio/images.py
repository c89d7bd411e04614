"""Photos from outside: looked at with suspicion, turned upright, stripped of everything but the picture, made again.

What is kept is never a byte of the upload: the pixels are encoded anew, so neither a place, a camera's number nor a
second file hidden behind the first one comes along.
"""

from __future__ import annotations

import io
import secrets
import warnings
from dataclasses import dataclass
from typing import BinaryIO

from django.conf import settings
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import UploadedFile
from PIL import Image, ImageCms, ImageFile, ImageOps, UnidentifiedImageError

from dyehouse.studio.refusals import Refused

FORMATS = ("JPEG", "PNG", "WEBP")
LONGEST_SIDE = 2400
THUMBNAIL_SIDE = 480
MOST_PIXELS = 52_000_000
LEAST_SIDE = 16
MOST_STRETCHED = 20


class PhotoRefused(Refused):
    """The upload is no photo that can be kept."""


@dataclass(frozen=True, slots=True)
class CleanPhoto:
    """A photo ready to be kept: JPEG bytes in sRGB, upright, without metadata, and the same small."""

    jpeg: bytes
    thumbnail: bytes
    width: int
    height: int

    def store(self, stem: str = "") -> StoredPhoto:
        """Write both under a name that cannot be guessed, or under a given one of letters and figures."""
        stem = stem or secrets.token_hex(16)
        folder = f"{stem[:2]}/{stem}"
        name = default_storage.save(f"{folder}.jpg", ContentFile(self.jpeg))
        small = default_storage.save(f"{folder}-small.jpg", ContentFile(self.thumbnail))
        return StoredPhoto(name=name, thumbnail_name=small, width=self.width, height=self.height)


@dataclass(frozen=True, slots=True)
class StoredPhoto:
    """Where a kept photo lies in the default storage."""

    name: str
    thumbnail_name: str
    width: int
    height: int


def accept_photo(upload: UploadedFile | BinaryIO) -> CleanPhoto:
    """The picture in an upload, upright and clean, at most 2400 px on its longer side, with a thumbnail of 480 px.

    JPEG, PNG and WebP only, whatever the file calls itself. Raises PhotoRefused with a sentence for anything else, for
    a file above PHOTO_LIMIT_BYTES, more than 52 million pixels, and one that breaks off.
    """
    raw = _read_at_most(upload, settings.PHOTO_LIMIT_BYTES)
    picture = _decode(raw)
    if min(picture.size) < LEAST_SIDE:
        raise PhotoRefused(f"The picture is only {picture.width} by {picture.height} dots. Choose a photo.")
    if max(picture.size) > MOST_STRETCHED * min(picture.size):
        raise PhotoRefused("The picture is a thin strip. Choose a photo.")
    large = fitted(picture, LONGEST_SIDE)
    small = fitted(large, THUMBNAIL_SIDE)
    return CleanPhoto(
        jpeg=encode(large, 86), thumbnail=encode(small, 82), width=large.width, height=large.height
    )


def _read_at_most(upload: UploadedFile | BinaryIO, limit_bytes: int) -> bytes:
    upload.seek(0)
    raw = upload.read(limit_bytes + 1)
    if len(raw) > limit_bytes:
        raise PhotoRefused(
            f"The file is larger than {limit_bytes // (1024 * 1024)} MB. Take the photo in a smaller size and send it again."
        )
    if not raw:
        raise PhotoRefused("The file is empty. Choose the photo once more.")
    return raw


def _decode(raw: bytes) -> Image.Image:
    if _is_heic(raw):
        raise PhotoRefused(
            "This is a HEIC photo, which cannot be read here. In the phone's camera settings choose the most compatible "
            "format (JPEG), or send a screenshot of it."
        )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            # The printing library lets broken pictures pass in the whole process once it is loaded; here they must not.
            ImageFile.LOAD_TRUNCATED_IMAGES = False
            picture = Image.open(io.BytesIO(raw), formats=FORMATS)
            # The header's size is known before a pixel is decoded, so that a small file cannot fill the memory.
            if picture.width * picture.height > MOST_PIXELS:
                raise PhotoRefused(_too_many_dots(picture.width, picture.height))
            profile = picture.info.get("icc_profile")
            if picture.format == "JPEG":
                picture.draft("RGB", (LONGEST_SIDE, LONGEST_SIDE))
            picture.load()
            upright = ImageOps.exif_transpose(picture)
    except PhotoRefused:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as bomb:
        raise PhotoRefused(
            "The picture has far too many dots. Take it in a smaller size and send it again."
        ) from bomb
    except UnidentifiedImageError as unknown:
        raise PhotoRefused(
            "This is no photo that can be read here. Choose a JPEG, PNG or WebP file."
        ) from unknown
    except Exception as broken:  # a hostile file may make the decoder raise anything
        raise PhotoRefused("The photo breaks off or is damaged. Take it or send it again.") from broken
    return _on_white(_in_srgb(upright, profile))


def _too_many_dots(width: int, height: int) -> str:
    return (
        f"The picture is {width} by {height} dots, more than {MOST_PIXELS // 1_000_000} million. "
        "Take it in a smaller size and send it again."
    )


def _is_heic(raw: bytes) -> bool:
    return raw[4:8] == b"ftyp" and raw[8:12] in {
        b"heic",
        b"heix",
        b"hevc",
        b"heim",
        b"heis",
        b"mif1",
        b"msf1",
        b"avif",
    }


def _in_srgb(picture: Image.Image, profile: bytes | None) -> Image.Image:
    """Phones photograph in wider colour spaces; without this a colour would look dull once its profile is gone."""
    if not profile or picture.mode not in {"RGB", "CMYK", "L"}:
        return picture
    try:
        source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
        turned = ImageCms.profileToProfile(picture, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
    except (ImageCms.PyCMSError, OSError, ValueError):
        return picture
    return turned or picture


def _on_white(picture: Image.Image) -> Image.Image:
    """RGB; what was see-through becomes white. A new image, so that nothing of the file's own notes comes along."""
    if picture.mode in {"RGBA", "LA", "PA"} or "transparency" in picture.info:
        rgba = picture.convert("RGBA")
        ground = Image.new("RGB", rgba.size, "white")
        ground.paste(rgba, mask=rgba.getchannel("A"))
        return ground
    bare = Image.new("RGB", picture.size)
    bare.paste(picture.convert("RGB"))
    return bare


def fitted(picture: Image.Image, side: int) -> Image.Image:
    """The picture within a square of that side; one that fits already stays as it is."""
    if max(picture.size) <= side:
        return picture
    return ImageOps.contain(picture, (side, side), Image.Resampling.LANCZOS)


def encode(picture: Image.Image, quality: int) -> bytes:
    """A progressive JPEG without any metadata."""
    buffer = io.BytesIO()
    picture.save(buffer, "JPEG", quality=quality, optimize=True, progressive=True)
    return buffer.getvalue()
