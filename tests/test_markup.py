"""Markup as a type: what is inserted is escaped, and a type checker refuses text in its place."""

from __future__ import annotations

import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dashboard.markup import LINE_BREAK, NOTHING, figure_text, joined, tag, text, unescaped

ROOT = Path(__file__).parents[1]


class Read(HTMLParser):
    """What a browser finds: elements with their attributes, and the words between them."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.words = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words += data


def read(markup: str) -> Read:
    """The markup as a browser reads it."""
    reader = Read()
    reader.feed(str(markup))  # as plain text: parts of markup would be escaped once more
    reader.close()
    return reader


HOSTILE = ["<b>", "&amp;", '"><img src=x>', "'", "</p>"]
WORDS = st.text(st.characters(blacklist_categories=("Cs", "Cc"))) | st.sampled_from(HOSTILE)


@given(words=WORDS, value=WORDS)
def test_words_and_attributes_come_out_as_they_went_in(words: str, value: str) -> None:
    """One element, whatever the words are."""
    found = read(tag("p", text(words), title=value))
    assert (found.elements, found.words) == ([("p", {"title": value})], words)


def test_an_element_is_written_in_one_way() -> None:
    """Attributes of None and False are left out, True stands alone, and elements without content have no end."""
    assert tag("p", text("a < b"), class_="x", hidden=False, title=None, disabled=True) == '<p class="x" disabled>a &lt; b</p>'
    assert tag("input", aria_label="it's", x=1.5) == '<input aria-label="it&#39;s" x="1.5">'
    assert joined([tag("i"), text("&")], LINE_BREAK) == "<i></i><br>&amp;"
    assert (joined([]), text("")) == (NOTHING, "")


def test_words_of_a_figure_know_three_entities_only() -> None:
    """Quotes stay as they are: the texts of a figure are measured by their letters."""
    assert figure_text("EV1's <b> & \"c\"") == "EV1's &lt;b&gt; &amp; \"c\""


@pytest.mark.parametrize("content", ["a</script>b", "A</SCRIPT >", "<!-- <script>"])
def test_a_script_cannot_leave_its_element(content: str) -> None:
    """It is refused; what stays within is not escaped."""
    with pytest.raises(ValueError, match="stays within its element"):
        unescaped("script", content)
    assert unescaped("script", "a && b", id="x") == '<script id="x">a && b</script>'


HEAD = """from dashboard.markup import Markup, joined, tag, text

words = input()
made: Markup = joined([tag("p"), text(words)])
"""
REFUSED = (
    "made = words",
    "made = tag('p', words)",
    "made = tag('p', f'<b>{words}</b>')",
    "made = f'{made}{made}'",
    "made = ''.join([made, made])",
    "made = joined([made, words])",
    "made = made if words else ''",
)


def checked(tmp_path: Path, source: str, *command: str) -> tuple[int, str]:
    """What a checker says of a file with this source."""
    file = tmp_path / "example.py"
    file.write_text(source)
    done = subprocess.run(
        [sys.executable, "-m", *command, str(file)], cwd=ROOT, capture_output=True, text=True, timeout=300, check=False
    )
    return done.returncode, done.stdout + done.stderr


def test_forgetting_to_escape_is_a_type_error(tmp_path: Path) -> None:
    """Each way of putting text where markup is wanted is refused, and nothing else in the file."""
    code, said = checked(tmp_path, HEAD + "\n".join(REFUSED) + "\n", "mypy", "--strict", f"--cache-dir={tmp_path / 'cache'}")
    first = HEAD.count("\n") + 1
    lines = {int(line.split(":")[1]) for line in said.splitlines() if ": error: " in line}
    assert (code, lines) == (1, set(range(first, first + len(REFUSED)))), said


def test_calling_computed_text_markup_is_refused_by_the_linter(tmp_path: Path) -> None:
    """A literal is taken; a name or an f-string is not."""
    lines = "Markup('<br>')", "Markup(words)", "Markup(f'<b>{words}</b>')"
    code, said = checked(tmp_path, HEAD + "\n".join(lines) + "\n", "ruff", "check", "--config", "pyproject.toml", "--no-cache")
    assert (code, said.count("S704 Unsafe use")) == (1, 2), said
