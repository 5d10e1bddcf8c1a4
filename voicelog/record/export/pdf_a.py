"""What a PDF/A-1b says of itself (ISO 19005-1): an XMP packet that agrees with the title and the date of the file.

The library makes one too, with the time at which it is written in it: the same exam would then not be the same file.
"""

from datetime import UTC, datetime
from html import escape
from typing import Final

COMPLIANCE: Final = "PDF/A-1B"

_XMP: Final = """<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about="" xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/">
   <pdfaid:part>1</pdfaid:part>
   <pdfaid:conformance>B</pdfaid:conformance>
  </rdf:Description>
  <rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/">
   <dc:title><rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt></dc:title>
  </rdf:Description>
  <rdf:Description rdf:about="" xmlns:xmp="http://ns.adobe.com/xap/1.0/">
   <xmp:CreateDate>{at}</xmp:CreateDate>
  </rdf:Description>
 </rdf:RDF>
</x:xmpmeta>"""


def described(title: str, at: datetime) -> str:
    """The packet of a file of this title, made at this time."""
    return _XMP.format(title=escape(title, quote=False), at=at.astimezone(UTC).isoformat(timespec="seconds"))
