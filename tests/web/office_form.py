"""A page's form as a browser without scripts would send it, read from the HTML."""

from html.parser import HTMLParser


class _Form(HTMLParser):
    """Collects the controls of the one form that carries a mark such as `data-import`."""

    def __init__(self, mark: str) -> None:
        super().__init__()
        self.mark = mark
        self.inside = False
        self.fields: dict[str, str] = {}
        self.options: dict[str, list[str]] = {}
        self.select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = {name: value or "" for name, value in attrs}
        if tag == "form":
            self.inside = self.mark in found
        name = found.get("name", "")
        if not self.inside:
            return
        if tag == "input" and name:
            if found.get("type") != "checkbox" or "checked" in found:
                self.fields[name] = found.get("value", "")
        elif tag == "select":
            self.select, self.options[name] = name, []
        elif tag == "option" and self.select:
            held = self.options[self.select]
            held.append(found.get("value", ""))
            if "selected" in found or len(held) == 1:
                self.fields[self.select] = held[-1]

    def handle_endtag(self, tag: str) -> None:
        if tag == "select":
            self.select = ""
        elif tag == "form":
            self.inside = False


def form_of(text: str, mark: str = "data-import") -> dict[str, str]:
    """Return what the form would send as it stands."""
    return _read(text, mark).fields


def options_of(text: str, name: str, mark: str = "data-import") -> list[str]:
    """Return the values that a choice of the form offers."""
    return _read(text, mark).options.get(name, [])


def _read(text: str, mark: str) -> _Form:
    reader = _Form(mark)
    reader.feed(text)
    return reader
