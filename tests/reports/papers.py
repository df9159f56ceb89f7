"""PDF files as the tests look at them: their text, pages and pictures."""

import pypdfium2
import pypdfium2.raw as pdfium


def pages(content: bytes) -> list[str]:
    """Give the text of each page, one line after the other."""
    with pypdfium2.PdfDocument(content) as document:
        return [page.get_textpage().get_text_range().replace("\r\n", "\n") for page in document]


def off_the_page(content: bytes) -> list[str]:
    """Give the letters that stand, even in part, outside of their page."""
    found = []
    with pypdfium2.PdfDocument(content) as document:
        for page in document:
            width, height = page.get_size()
            text = page.get_textpage()
            for place in range(text.count_chars()):
                left, bottom, right, top = text.get_charbox(place)
                if left < 0 or bottom < 0 or right > width or top > height:
                    found.append(text.get_text_range(place, 1))
    return found


def kinds_of_objects(content: bytes) -> set[int]:
    """Give what is drawn on the pages, by the kinds of FPDF_PAGEOBJ."""
    with pypdfium2.PdfDocument(content) as document:
        return {drawn.type for page in document for drawn in page.get_objects(max_depth=20)}


IMAGE, PATH = pdfium.FPDF_PAGEOBJ_IMAGE, pdfium.FPDF_PAGEOBJ_PATH
