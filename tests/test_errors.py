"""Which words are offered for a wrong one."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgen.errors import nearest, suggestion

IDS = (
    "pico-2",
    "micro-32u4",
    "pro-micro-32u4",
    "esp32-devkitc",
    "esp32-s3-devkitc-1",
    "dsub-9-plug-straight",
)


@pytest.mark.parametrize(
    ("word", "found"),
    [
        ("pico-3", ("pico-2",)),
        ("pico2", ("pico-2",)),
        ("PICO-2", ("pico-2",)),
        ("esp32", ("esp32-devkitc", "esp32-s3-devkitc-1")),
        ("micro32u4", ("micro-32u4",)),
        ("dsub-9-plug-strait", ("dsub-9-plug-straight",)),
        ("teapot", ()),
        ("es", ()),
        ("", ()),
    ],
)
def test_only_words_that_look_alike_are_offered(word, found):
    assert nearest(word, IDS) == found


def test_a_suggestion_is_the_end_of_a_sentence():
    assert suggestion("esp32", IDS) == ", did you mean 'esp32-devkitc' or 'esp32-s3-devkitc-1'?"
    assert suggestion("teapot", IDS) == ""
    assert suggestion("teapot", ()) == ""


@given(st.lists(st.text("abc-1", min_size=1, max_size=8), min_size=1, max_size=12), st.randoms())
def test_the_word_itself_comes_first_whatever_the_order(words, random):
    shuffled = list(words)
    random.shuffle(shuffled)
    for word in words:
        found = nearest(word, words)
        assert word == found[0]
        assert found == nearest(word, shuffled)
        assert len(found) <= 3
