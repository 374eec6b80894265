"""A table that a phone shows as blocks: what people typed stays text, and each value keeps its column's word."""

from __future__ import annotations

from html.parser import HTMLParser

from streamlit.testing.v1 import AppTest


class _Read(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.heads: list[str | None] = []
        self.said: list[str] = []

    def handle_starttag(self, tag: str, attributes: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        if tag == "td":
            self.heads.append(dict(attributes)["data-head"])

    def handle_data(self, text: str) -> None:
        self.said.append(text)


def read() -> _Read:
    def page() -> None:
        from course.screens.wide_table import table as draw

        name = '<img src=x onerror="alert(1)"> & **B**'
        draw(("Who", 'Min "in" it'), [(name, "12"), ("Ö", "3")], right=(1,), groups=["One & one", "Two"])

    found = _Read()
    found.feed(str(AppTest.from_function(page).run().get("html")[0].proto.body))
    return found


def test_what_people_typed_is_text_and_no_markup() -> None:
    found = read()
    assert set(found.tags) == {"table", "thead", "tbody", "tr", "th", "td"}
    assert '<img src=x onerror="alert(1)"> & **B**' in found.said


def test_each_value_keeps_the_word_of_its_column_and_each_group_its_name() -> None:
    found = read()
    assert found.heads == ["Who", 'Min "in" it'] * 2
    assert [text for text in found.said if text in {"One & one", "Two"}] == ["One & one", "Two"]
    assert found.tags.count("tbody") == 2
