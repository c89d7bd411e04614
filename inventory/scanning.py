"""Reading the code on a tag or label from a photo or a camera's picture."""

from __future__ import annotations

import io
from typing import BinaryIO

import zxingcpp
from django.core.files.uploadedfile import UploadedFile
from PIL import Image

from dyehouse.studio.codes import is_valid, tidy
from dyehouse.studio.images import accept_photo
from dyehouse.studio.refusals import Refused


class NoCodeSeen(Refused):
    """The picture shows no code of the house."""


def code_in_picture(upload: UploadedFile | BinaryIO) -> str:
    """The house's code in a picture of a tag or label: QR or bar code, upright or turned, the first that is whole.

    Raises NoCodeSeen when there is none, and PhotoRefused for what is no picture.
    """
    clean = accept_photo(upload)
    with Image.open(io.BytesIO(clean.jpeg)) as picture:
        seen = [tidy(found.text) for found in zxingcpp.read_barcodes(picture)]
    for code in seen:
        if is_valid(code):
            return code
    if seen:
        raise NoCodeSeen(f"The code in the picture says {seen[0][:40]}, which is none of the house's.")
    raise NoCodeSeen(
        "No code can be read in this picture. Hold it nearer, flat and in good light, or type the code."
    )
