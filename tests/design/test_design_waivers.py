"""Waivers of findings in a design file: what they must say, and what they may not name."""

from pathlib import Path

import pytest

from boardgen.design.load import load_design
from boardgen.design.model import FindingWaiver
from boardgen.errors import InputError, InputErrors

BASE = """name = "d"
connector = "pin-row-1x2"
[[contacts]]
number = 1
kind = "switch"
signal = "S"
[[waivers]]
reason = "seen on the bench"
"""


def load(folder: Path, text: str):
    (folder / "design.toml").write_text(BASE + text)
    return load_design(folder)


def test_a_waiver_of_a_finding_is_kept_apart_from_those_of_pins(tmp_path):
    design = load(
        tmp_path,
        'rule = "mask-web"\nitems = ["J1"]\nuntil = "B"\n[[waivers]]\npin = "GP0"\nreason = "why not"\n',
    )
    assert design.accepted == (FindingWaiver("mask-web", ("J1",), "B", "seen on the bench", 7),)
    assert [w.pin for w in design.waivers] == ["GP0"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "a waiver names a pin or a rule, and not both; allowed: pin, rule"),
        (
            'pin = "GP0"\nrule = "stub"\nuntil = "A"\n',
            "a waiver names a pin or a rule, and not both; allowed: pin, rule",
        ),
        ('pin = "GP0"\nuntil = "A"\n', "a waiver of a pin has no until; allowed: with rule"),
        ('rule = "stubb"\nuntil = "A"\n', "there is no rule 'stubb', did you mean 'stub'?"),
        (
            'rule = "stub"\n',
            "a waiver of a rule needs until, the last revision it holds for; allowed: until = 'A'",
        ),
        (
            'rule = "readback-open"\nuntil = "A"\n',
            "readback-open is about what the files say and cannot be waived; "
            "allowed: rules of the board itself",
        ),
    ],
)
def test_what_a_waiver_may_not_say(tmp_path, text, message):
    with pytest.raises((InputError, InputErrors)) as caught:
        load(tmp_path, text)
    assert message in str(caught.value)
