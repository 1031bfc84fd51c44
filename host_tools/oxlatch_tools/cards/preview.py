"""Pictures of the pages of a PDF, to look at before printing."""

import io

import pypdfium2

POINTS_PER_INCH = 72.0


def previews(pdf: bytes, dots_per_inch: float = 110.0) -> list[bytes]:
    """One PNG a page."""
    document = pypdfium2.PdfDocument(pdf)
    found = []
    try:
        for page in document:
            buffer = io.BytesIO()
            page.render(scale=dots_per_inch / POINTS_PER_INCH, grayscale=True).to_pil().save(buffer, format="PNG")
            found.append(buffer.getvalue())
    finally:
        document.close()
    return found
