"""The table of mistakes fits the program as it is."""

from tests.mutants.__main__ import ROOT
from tests.mutants.mistakes import BARS, all_mistakes


def test_each_mistake_stands_where_it_says_and_is_one():
    texts = {file: (ROOT / file).read_text() for file in {each.file for each in all_mistakes()}}
    for each in all_mistakes():
        text = texts[each.file]
        assert text.count(each.was) == 1, each.words
        compile(text.replace(each.was, each.becomes), each.file, "exec")
        assert each.room in BARS
