"""The same page as a PDF, by WeasyPrint: one layout for both, the print style of the HTML.

It is an extra, since it needs the library Pango beside it; any browser prints the page as well.
"""

from __future__ import annotations

from trainer.errors import TrainerError
from trainer.extras import advice


def as_pdf(html: str) -> bytes:
    """The bytes of the file, tagged for screen readers. Nothing is fetched from anywhere.
    Raises TrainerError where the extra is missing."""
    try:
        from weasyprint import HTML
        from weasyprint.urls import URLFetcher
    except (ImportError, OSError) as error:  # OSError: Pango is not there
        raise TrainerError(_missing()) from error
    nothing = URLFetcher(allowed_protocols=())
    made: bytes = HTML(string=html, url_fetcher=nothing).write_pdf(pdf_variant="pdf/ua-1")
    return made


def _missing() -> str:
    told = advice("No PDF can be made", "pdf").rstrip(".")
    return (
        f"{told}, with the system's library Pango, or write FILE.html and print it from a browser."
    )
