"""`tetherline explain`: the words of the program, in its own texts."""

from __future__ import annotations

import json

from tests.command import assert_bad_input, one_line, tetherline


def test_a_word_is_explained_with_every_meaning():
    """A field of two tables, a kind of event: each with its place, what it means and how it is written."""
    said = one_line(tetherline("explain", "after").stdout)
    assert said.startswith("after: field of the plan ([[task]]) Cannot be done unless those tasks are done")
    start = tetherline("explain", "start").stdout
    assert "start: field of the plan ([sortie])" in start and "start: kind of event" in start
    assert "entered by whoever logs" in start


def test_words_may_have_spaces_hyphens_or_their_table_before_them():
    """As a person types them."""
    assert tetherline("explain", "pet", "zero").stdout == tetherline("explain", "PET zero").stdout != ""
    assert "break_off: kind of event" in tetherline("explain", "break-off").stdout
    assert "[[task]]" in tetherline("explain", "task.start").stdout
    assert "kind of event" not in tetherline("explain", "task.start").stdout


def test_the_same_as_json():
    """One object for each meaning; without a word all of them."""
    told = json.loads(tetherline("explain", "over-limit", "--json").stdout)
    assert [(one["word"], one["sort"]) for one in told] == [("over-limit", "alert")]
    assert len(json.loads(tetherline("explain", "--json").stdout)) > 200
    assert "call: none, expect, decide" in one_line(tetherline("explain").stdout)


def test_an_unknown_word_is_bad_input_with_the_nearest_known_ones():
    """Or with where to find all of them."""
    assert_bad_input(tetherline("explain", "aftr"), "Nearest: 'after'")
    assert_bad_input(tetherline("explain", "xyzzy"), "lists all")
