"""The one door to WeasyPrint. Nothing that is printed is fetched from anywhere but this house.

Imported inside the functions: WeasyPrint takes seconds to load and needs Pango, which a machine may lack.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

from django.template.loader import get_template, render_to_string

from dyehouse.paper.faces import FACES, RIGHT_TO_LEFT_FACES, font_bytes, right_to_left_fonts_wanted
from dyehouse.running.system import missing_for_pdfs, pdf_sentence

if TYPE_CHECKING:
    from weasyprint import Document

OURS = "house://"


class PaperUnavailable(RuntimeError):
    """This machine cannot make PDFs; the sentence names what to install."""


class AddressRefused(RuntimeError):
    """Something to be printed asked for an address that is not ours."""


def pdf_from_template(
    template: str, context: Mapping[str, Any], *, stylesheet: str, pictures: Mapping[str, bytes] | None = None
) -> bytes:
    """A PDF of one of our templates.

    `stylesheet` is a file of templates/paper/. The template shows a picture of `pictures` as house://pictures/NAME.
    Raises PaperUnavailable, and AddressRefused for any address that is not ours.
    """
    return pdf_bytes(laid_out(template, context, stylesheet=stylesheet, pictures=pictures))


def laid_out(
    template: str, context: Mapping[str, Any], *, stylesheet: str, pictures: Mapping[str, bytes] | None = None
) -> Document:
    """The same, laid out but not written yet, for those who must count its pages. Raises as `pdf_from_template`."""
    weasyprint = _weasyprint()
    from weasyprint.text.fonts import FontConfiguration
    from weasyprint.urls import FatalURLFetchingError

    fetcher = _fetcher_class()(pictures or {})
    fonts = FontConfiguration()
    css = get_template(f"paper/{stylesheet}").render(dict(context))
    words = render_to_string(template, dict(context))
    try:
        sheets = [
            weasyprint.CSS(string=text, font_config=fonts, url_fetcher=fetcher, base_url=OURS)
            for text in (font_faces(right_to_left=right_to_left_fonts_wanted(words)), css)
        ]
        html = weasyprint.HTML(string=words, url_fetcher=fetcher, base_url=OURS)
        document: Document = html.render(stylesheets=sheets, font_config=fonts)
    except FatalURLFetchingError as refused:
        raise AddressRefused(str(refused)) from None
    return document


def pdf_bytes(document: Document) -> bytes:
    """The laid-out document as a PDF. Raises AddressRefused."""
    from weasyprint.urls import FatalURLFetchingError

    try:
        written: bytes = document.write_pdf()
    except FatalURLFetchingError as refused:
        raise AddressRefused(str(refused)) from None
    return written


def font_faces(*, right_to_left: bool = False) -> str:
    """The packaged fonts as @font-face rules, so that paper looks alike on every machine."""
    return "\n".join(
        f'@font-face {{ font-family: "{each.family}"; font-weight: {each.weight}; font-style: {each.style}; '
        f'src: url("{OURS}fonts/{each.file}") format("truetype"); }}'
        for each in (*FACES, *(RIGHT_TO_LEFT_FACES if right_to_left else ()))
    )


def _weasyprint() -> Any:
    try:
        import weasyprint
    except OSError as error:
        missing = missing_for_pdfs()
        raise PaperUnavailable(pdf_sentence(missing) if missing else _other_system()) from error
    return weasyprint


def _other_system() -> str:
    return (
        "Labels and cards cannot be printed as PDF here, since Pango is missing; all else works. "
        "The fix: brew install pango (macOS), apt install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 "
        "(Debian), or Pango from MSYS2 (Windows). Then start again."
    )


@cache
def _fetcher_class() -> Any:
    from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

    class HouseFetcher(URLFetcher):
        """Answers our own names from memory, hands `data:` on, and stops at everything else."""

        def __init__(self, pictures: Mapping[str, bytes]) -> None:
            super().__init__(allowed_protocols=("data",), allow_redirects=False)
            self._pictures = pictures

        def fetch(self, url: str, headers: Mapping[str, str] | None = None) -> Any:
            if url.startswith("data:"):
                return super().fetch(url, headers)
            room, _, name = url.removeprefix(OURS).partition("/")
            if url.startswith(OURS) and room == "fonts" and (content := font_bytes(name)) is not None:
                return URLFetcherResponse(url, content, {"Content-Type": "font/ttf"})
            if url.startswith(OURS) and room == "pictures" and name in self._pictures:
                return URLFetcherResponse(
                    url, self._pictures[name], {"Content-Type": _kind(self._pictures[name])}
                )
            raise FatalURLFetchingError(f"Paper fetches nothing from {url[:80]}.")

    return HouseFetcher


def _kind(picture: bytes) -> str:
    return "image/png" if picture.startswith(b"\x89PNG") else "image/jpeg"
