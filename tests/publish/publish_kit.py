"""Reads a published page as a browser would: elements, texts, tables."""

from __future__ import annotations

from html.parser import HTMLParser

VOID = {"meta", "br", "link", "img", "input", "hr"}


class Page(HTMLParser):
    """Elements in order, their texts; raises AssertionError where tags do not nest."""

    def __init__(self, html: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[tuple[tuple[str, ...], str]] = []
        self.tables: list[list[list[str]]] = []
        self.open: list[str] = []
        self.section = ""
        self.in_section: dict[str, list[str]] = {}
        self.feed(html)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        if tag == "table":
            self.tables.append([])
        if tag == "tr":
            self.tables[-1].append([])
        if tag in ("td", "th"):
            self.tables[-1][-1].append("")
        if tag == "section":
            self.section = dict(attrs)["id"]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.open, f"</{tag}> closes nothing"
        assert self.open[-1] == tag, f"</{tag}> closes <{self.open[-1]}>"
        self.open.pop()
        if tag == "section":
            self.section = ""

    def handle_data(self, data):
        if not data.strip():
            return
        self.texts.append((tuple(self.open), data))
        self.in_section.setdefault(self.section, []).append(data)
        if "td" in self.open or ("th" in self.open and "table" in self.open):
            self.tables[-1][-1][-1] += data

    def words(self, section: str | None = None) -> str:
        """Return all text of the page, or of one section, but for style and titles of pictures."""
        if section is not None:
            return " ".join(" ".join(self.in_section.get(section, [])).split())
        return " ".join(" ".join(text for tags, text in self.texts if "style" not in tags).split())
