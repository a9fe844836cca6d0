"""Templates on their way to a browser: laid out for people in their files, without that white space in a page.

Line breaks and indents make nearly half of what a page would weigh, in a long table more than its words. A browser
shows a run of white space as one space, and none beside a block. So an indent is read as one space, and as nothing
beside a block's tag or at the end of a tag; what stands in ``<pre>`` and ``<textarea>`` stays as it is.
"""

from __future__ import annotations

import re

from django.conf import settings
from django.template import Origin
from django.template.loaders import filesystem

BLOCKS = (
    "html|head|title|body|header|footer|main|nav|aside|section|article|div|p|h[1-6]|ul|ol|li|dl|dt|dd|"
    "table|caption|colgroup|col|thead|tbody|tfoot|tr|th|td|form|fieldset|legend|details|summary|figure|figcaption|"
    "hr|br|blockquote|pre|option|optgroup|progress"
)
KEPT = re.compile(r"(<(pre|textarea|script|style)\b.*?</\2>)", re.DOTALL)
INDENT = re.compile(r"\s*\n\s*")
END_OF_TAG = re.compile(r"\s*\n\s*>")
BEFORE_BLOCK = re.compile(rf"\s*\n\s*(?=</?(?:{BLOCKS})\b)")
AFTER_BLOCK = re.compile(rf"(</?(?:{BLOCKS})\b[^<>]*>)\s*\n\s*")


class Loader(filesystem.Loader):
    """Reads a template's file; of HTML without its indents."""

    def get_contents(self, origin: Origin) -> str:
        text = super().get_contents(origin)
        if settings.DEBUG or not str(origin.name).endswith(".html"):
            return text  # whoever looks for a mistake wants the line it is in
        return without_indents(text)


def without_indents(text: str) -> str:
    pieces = []
    at = 0
    for kept in KEPT.finditer(text):
        pieces.append(_folded(text[at : kept.start()]))
        pieces.append(kept[0])
        at = kept.end()
    pieces.append(_folded(text[at:]))
    return "".join(pieces)


def _folded(text: str) -> str:
    text = END_OF_TAG.sub(">", text)
    text = BEFORE_BLOCK.sub("", text)
    text = AFTER_BLOCK.sub(r"\1", text)
    return INDENT.sub(" ", text)
