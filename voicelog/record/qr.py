"""A text as a QR code (ISO/IEC 18004), made by segno: as rows of dark and light, and as a picture."""

import io

import segno


def qr_rows(text: str) -> list[list[bool]]:
    """Whether each module is dark, without the quiet zone around it (four modules, by the standard)."""
    return [[bool(module) for module in row] for row in _code(text).matrix]


def qr_svg(text: str) -> bytes:
    """The code as an SVG file, with its quiet zone."""
    file = io.BytesIO()
    _code(text).save(file, kind="svg", scale=4)
    return file.getvalue()


def _code(text: str) -> segno.QRCode:
    return segno.make_qr(text, error="l", boost_error=False)
