"""What keeps firmware from running on a board whose pins it was not written for."""

from __future__ import annotations


def c_guard(digest: str) -> list[str]:
    """Return header lines that stop the build where the firmware names another pin map.

    *digest* is the pin map's, in hex digits; as a number, the preprocessor can compare it.
    """
    return [
        f"#define BOARD_PIN_MAP_NUMBER 0x{digest}ULL",
        "/* Before it includes this file, firmware says which pin map it was written for:",
        f" * #define PINS_WRITTEN_FOR 0x{digest}ULL */",
        "#if defined(PINS_WRITTEN_FOR)",
        "#if PINS_WRITTEN_FOR != BOARD_PIN_MAP_NUMBER",
        '#error "this firmware was written for another pin map than BOARD_PIN_MAP"',
        "#endif",
        "#endif",
    ]


def python_guard() -> list[str]:
    """Return module lines with a function that stops firmware written for another pin map."""
    return [
        "",
        "",
        "def check_pins(written_for):",
        '    """Stop firmware at its start where it was written for another pin map than this."""',
        "    if written_for != BOARD_PIN_MAP:",
        '        text = "written for pin map %s, these pins are %s"',
        "        raise RuntimeError(text % (written_for, BOARD_PIN_MAP))",
        "",
        "",
    ]
