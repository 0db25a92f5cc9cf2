"""Signs: which font has them, and that words which run from right to left leave numbers where they belong."""

import re
import unicodedata

import pytest

from calc.base.signs import fonts
from calc.base.signs.fonts import codes_to_come, cuts, digests, printable
from calc.base.signs.scripts import directed, east_of, language_of

NORTH_WALL = "קיר צפוני"
SENTENCES = {
    "el": "Αγκύρια στον βόρειο τοίχο",
    "pl": "Zażółć gęślą jaźń: kotwy wklejane",
    "tr": "Kuzey duvarı için bağlantı çubukları: ığüşöçİ",
    "zh-Hans": "外墙植筋施工说明",
    "ja": "北側壁のあと施工アンカー",
    "ko": "북측 벽체 앵커 철근",
    "ar": "قضبان التسليح في الجدار الشمالي",
    "he": "קוצים לקיר הצפוני",
}


@pytest.mark.parametrize(("language", "text"), SENTENCES.items())
def test_the_languages_that_are_promised_have_shapes(language, text):
    assert printable(text) == text
    assert codes_to_come(text) == ""
    assert language_of(text) == ("" if language in ("pl", "tr") else language)


def test_characters_without_a_shape_are_named():
    assert printable("ก") == "\u200e[U+0E01]"
    assert printable("a\u202eb") == "a\u200e[U+202E]b"
    assert printable("Ω ≤ ½ ✓ שלום 漢") == "Ω ≤ ½ ✓ שלום 漢"
    assert printable("mo\u00adlo \u200fשם\u200f") == "molo שם"
    said = codes_to_come("ก ข 壁")
    assert "ก (U+0E01), ข (U+0E02)" in said
    assert "壁" not in said


def test_without_the_font_of_the_east_the_package_is_named(monkeypatch):
    monkeypatch.setattr(fonts, "cjk", lambda: None)
    fonts._character.cache_clear()
    assert printable("壁").endswith("[U+58C1]")
    assert "noto-cjk-sans-otc" in codes_to_come("壁")
    assert not [name for name in digests.__wrapped__() if "CJK" in name]
    assert fonts.for_pictures.__wrapped__() == [fonts.DEJAVU]
    fonts._character.cache_clear()


def visual(text):
    """The order in which a line of English is drawn, by Unicode as far as the tests go."""
    drawn, run, depth = "", "", 0
    for letter in text:
        if letter in "\u2066\u2067":
            depth += 1
        elif letter == "\u2069":
            depth -= 1
            if depth == 0:
                drawn, run = drawn + run[::-1], ""
        elif depth:
            run += letter
        else:
            assert unicodedata.bidirectional(letter) not in ("R", "AL"), "a word that runs left stands unprotected"
            drawn += letter
    return drawn


@pytest.mark.parametrize(
    "text",
    [f"Wall {NORTH_WALL} 3: 24 holes", f"step 1.2 of {NORTH_WALL} 3, 12.5 mL", f"Group {NORTH_WALL}.2, step 3"],
)
def test_numbers_beside_words_that_run_left_stay_in_their_order(text):
    told = directed(text)
    assert re.sub("[\u2066-\u2069]", "", told) == text
    assert re.findall(r"\d+", visual(told)) == re.findall(r"\d+", text)


def test_a_text_of_its_own_runs_left_as_a_whole_and_its_values_keep_their_units():
    assert directed(f"{NORTH_WALL} 3, 16 mm") == f"\u2067{NORTH_WALL} 3, \u206616 mm\u2069\u2069"
    assert directed(f"Hand check: {NORTH_WALL}, 3", [f"{NORTH_WALL}, 3"]) == f"Hand check: \u2067{NORTH_WALL}, 3\u2069"
    for plain in ("", "12.5 mL", "外墙 3", "Σχέδιο 3"):
        assert directed(plain) == plain
    two = directed(f"first\n{NORTH_WALL}")
    assert two == f"first\n\u2067{NORTH_WALL}\u2069"  # an isolate does not reach over a line's end


def test_only_what_a_browser_may_lack_is_cut_out():
    assert cuts("Wall 3, Ωμέγα ≤ 5 µm, Zażółć ✓") == []
    found = cuts("קיר 壁の 3")
    assert {(cut.letters, cut.weight) for cut in found} == {("יקר", "normal"), ("יקר", "bold"), ("の壁", "normal")}
    assert found[-1].place == east_of("壁の").place
    assert cuts("ก") == []
