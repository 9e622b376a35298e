"""A finished page in the units asked for: its text and its tables; what is drawn has been turned before."""

from __future__ import annotations

import html
import re
from collections.abc import Callable

from planner.report.text.shown_units import are_shown_in_us, column_in, in_words

_TAG = re.compile(r"(<[^>]*>)")
_NAME = re.compile(r"</?([a-z0-9]+)", re.IGNORECASE)
_SAID = re.compile(r'\b(aria-label|alt|title|content)="([^"]*)"')
UNREAD = frozenset({"script", "style"})


def page_shown(page: str) -> str:
    """Turn every text of a page; a column whose heading names a unit is turned cell by cell."""
    if not are_shown_in_us():
        return page
    reader = _Reader()
    return "".join(reader.part(part) for part in _TAG.split(page))


class _Reader:
    """Knows in which column of which table a text stands."""

    def __init__(self) -> None:
        self._unread = ""
        self._columns: list[Callable[[str], str]] = []
        self._at = -1
        self._cell = ""
        self._is_head = False

    def part(self, part: str) -> str:
        if part.startswith("<"):
            return self._tag(part)
        if self._unread or not part.strip():
            return part
        text = html.unescape(part)
        return html.escape(self._turned(text), quote=False)

    def _tag(self, tag: str) -> str:
        match = _NAME.match(tag)
        name = match[1].lower() if match else ""
        is_end = tag.startswith("</")
        if name in UNREAD:
            self._unread = "" if is_end else name
        if name in ("table", "thead") and not is_end:
            self._columns = []
        if name == "tr":
            self._at = -1
        if name == "thead":
            self._is_head = not is_end
        if name in ("td", "th"):
            if is_end and self._is_head and self._at == len(self._columns):
                self._columns.append(in_words)  # a column without a heading
            self._cell = "" if is_end else name
            self._at += not is_end
        return _SAID.sub(lambda found: f'{found[1]}="{html.escape(in_words(html.unescape(found[2])))}"', tag)

    def _turned(self, text: str) -> str:
        if self._is_head and self._cell and self._at == len(self._columns):
            heading, turn = column_in(text.strip())
            self._columns.append(turn)
            return text.replace(text.strip(), heading)
        if self._cell and 0 <= self._at < len(self._columns):
            return self._columns[self._at](text)
        return in_words(text)


def file_shown(name: str, content: bytes) -> bytes:
    """The content of a file that is written in the units asked for: pages are turned, data never."""
    return page_shown(content.decode("utf-8")).encode("utf-8") if name.endswith(".html") else content
