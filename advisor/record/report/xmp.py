"""What a PDF says of itself in XMP (ISO 16684-1), with the claim of PDF/A-3u (ISO 19005-3).

Written here rather than by fpdf2, which puts the clock of the machine into the file.
"""

from __future__ import annotations

from datetime import datetime
from html import escape

_PACKET = """\
<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about=""
    xmlns:dc="http://purl.org/dc/elements/1.1/"
    xmlns:xmp="http://ns.adobe.com/xap/1.0/"
    xmlns:pdf="http://ns.adobe.com/pdf/1.3/"
    xmlns:pdfaid="http://www.aiim.org/pdfa/ns/id/"
    xmp:CreatorTool="{creator}" xmp:CreateDate="{made}" xmp:ModifyDate="{made}"
    xmp:MetadataDate="{made}" pdf:Producer="{producer}">
   <pdfaid:part>3</pdfaid:part>
   <pdfaid:conformance>U</pdfaid:conformance>
   <dc:title>
    <rdf:Alt><rdf:li xml:lang="x-default">{title}</rdf:li></rdf:Alt>
   </dc:title>
   <dc:description>
    <rdf:Alt><rdf:li xml:lang="x-default">{subject}</rdf:li></rdf:Alt>
   </dc:description>
  </rdf:Description>
 </rdf:RDF>
</x:xmpmeta>"""


def xmp_packet(title: str, subject: str, creator: str, producer: str, made: datetime) -> str:
    """Return the metadata; the texts must be the same as in the document's own fields."""
    texts = {"title": title, "subject": subject, "creator": creator, "producer": producer}
    return _PACKET.format(
        made=made.isoformat(timespec="seconds"),
        **{name: escape(text, quote=True) for name, text in texts.items()},
    )
