"""An address as a QR code, for a phone's camera."""

import segno


def qr_svg(address: str) -> str:
    """Return the address as an inline SVG of a QR code, on white in either theme."""
    code = segno.make(address, error="m")
    return str(code.svg_inline(omitsize=True, border=3, dark="#000", light="#fff", svgclass=None))
