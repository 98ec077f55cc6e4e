"""The German catalogue says all that is marked, says it wholly, and is what the server reads."""

from __future__ import annotations

import re

from tests.languages.catalogue import MO, answers, bring_up, compiled, read, strings, untranslated
from tests.languages.marked import ROOT, marked

FACTS = re.compile(r"%\(\w+\)[a-z.\d]*[sdf]|\{\w*(?::[^}]*)?\}|</?\w+")
FORMATS = re.compile(r'\|date:"([^"]*)"')


def test_all_that_is_marked_is_in_it_and_nothing_else() -> None:
    """A text that has a plural elsewhere is answered by that one."""
    texts = marked()
    with_plural = {(text.context, text.one) for text in texts if text.several}
    asked = {text for text in texts if text.several or (text.context, text.one) not in with_plural}

    assert {(one.context or "", one.id) for one in read() if one.id} == {
        (text.context, text.id) for text in asked
    }


def test_nothing_is_left_untranslated() -> None:
    assert untranslated(read()) == []


def test_the_facts_of_each_text_are_those_of_its_answer() -> None:
    for one in read():
        if one.id:
            asked = one.id if isinstance(one.id, str) else one.id[1]
            for answer in strings(one):
                assert set(FACTS.findall(answer)) <= set(FACTS.findall(asked)), one.id
            assert set(FACTS.findall(strings(one)[-1])) == set(FACTS.findall(asked)), one.id


def test_blanks_around_a_part_of_a_sentence_stay() -> None:
    for one in read():
        if isinstance(one.id, str) and one.id:
            answer = strings(one)[0]
            for edge in (0, -1):
                assert (one.id[edge] in " \n") == (answer[edge] in " \n"), one.id


def test_what_is_compiled_is_what_is_written() -> None:
    assert answers(MO.read_bytes()) == answers(compiled(read()))


def test_bringing_it_up_changes_nothing() -> None:
    assert answers(compiled(bring_up())) == answers(compiled(read()))


def test_each_day_is_written_in_a_form_that_the_catalogue_has() -> None:
    pages = (ROOT / "scheduling" / "templates").rglob("*.html")
    used = {form for page in pages for form in FORMATS.findall(page.read_text(encoding="utf-8"))}

    assert used - {"DATE_FORMAT"} <= {text.one for text in marked() if text.context == "date"}
