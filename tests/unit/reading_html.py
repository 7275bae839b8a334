"""A report taken apart with the standard library's parser, for the tests of it."""

from html.parser import HTMLParser

VOID = {"br", "col", "hr", "link", "meta", "wbr", "img", "input"}


class Page(HTMLParser):
    """Elements with their attributes, the text in them, and whether every tag is closed."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.elements = []
        self.texts = []
        self.open = []
        self.faults = []
        self.feed(text)
        self.close()
        self.faults += [f"<{name}> is never closed" for name, _ in self.open]

    def handle_starttag(self, tag, attributes):
        names = [name for name, _ in attributes]
        if len(set(names)) < len(names):
            self.faults.append(f"<{tag}> has an attribute twice: {names}")
        self.elements.append((tag, dict(attributes)))
        if tag not in VOID:
            self.open.append((tag, dict(attributes)))

    def handle_endtag(self, tag):
        if not self.open or self.open[-1][0] != tag:
            self.faults.append(f"</{tag}> closes {self.open[-1:]}")
            return
        self.open.pop()

    def handle_data(self, data):
        self.texts.append(([name for name, _ in self.open], data))

    def all(self, tag):
        return [attributes for name, attributes in self.elements if name == tag]

    def text(self):
        hidden = {"style", "script"}
        return "".join(data for path, data in self.texts if not hidden & set(path))


class Tables(HTMLParser):
    """Every table of a page as its caption and rows of texts."""

    def __init__(self, text):
        super().__init__(convert_charrefs=True)
        self.tables = {}
        self.caption = ""
        self.rows = []
        self.into = None
        self.skipped = 0
        self.feed(text)

    def handle_starttag(self, tag, attributes):
        if tag == "table":
            self.rows = []
        elif tag == "tr":
            self.rows.append([])
        elif tag in ("td", "th"):
            self.rows[-1].append("")
            self.into = "cell"
        elif tag == "caption":
            self.caption, self.into = "", "caption"
        elif tag == "span" and self.into == "cell":
            if self.skipped or dict(attributes).get("class") == "cell-head":
                self.skipped += 1
            else:
                self.rows[-1][-1] += " "
        elif tag == "small" and self.into == "cell":
            self.rows[-1][-1] += " "

    def handle_endtag(self, tag):
        if tag == "table":
            self.tables.setdefault(self.caption, self.rows)
        elif tag in ("td", "th"):
            self.rows[-1][-1] = self.rows[-1][-1].strip()
            self.into = None
        elif tag == "caption":
            self.into = None
        elif tag == "span" and self.skipped:
            self.skipped -= 1

    def handle_data(self, data):
        if self.into == "caption":
            self.caption += data
        elif self.into == "cell" and not self.skipped:
            self.rows[-1][-1] += data
