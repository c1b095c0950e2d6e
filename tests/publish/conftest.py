import shutil

import pytest
from demos import DESIGNS

ERRATA = """
[[errata]]
revision = "A"
symptom = "the key at contact 20 does nothing"
cause = "contact 20 was taken for unused"
workaround = "none: the contact is not wired"
fixed_in = "B"

[[errata.wire]]
between = ["J1.20", "U1.22"]

[[errata.cut]]
net = "HOLD"
side = "bottom"
at_mm = [20.0, 30.0]

[[errata]]
revision = "B"
symptom = "lamp 22 glows while the board starts"
"""


@pytest.fixture(scope="session")
def run_a(run_of):
    """The demo's run A, not to be written to."""
    return run_of("slide-remote").folder


@pytest.fixture(scope="session")
def history(run_a, tmp_path_factory):
    """Runs A and B side by side with the design that went on to B; not to be written to."""
    from boardgen.pipeline import generate
    from boardgen.revision.revise import revise

    root = tmp_path_factory.mktemp("publish")
    design = root / "design"
    shutil.copytree(DESIGNS / "slide-remote", design)
    shutil.copytree(run_a, root / "slide-remote-A")
    file = revise(root / "slide-remote-A", None, design).path
    text = file.read_text("utf-8")
    text = text.replace('number = 20\nkind = "unused"', 'number = 20\nkind = "switch"\nsignal = "SPARE"')
    text = text.replace("\n[holes]\n", f"{ERRATA}\n[holes]\n")
    text = text.replace(
        'connector = "box', 'licence = "CC-BY-4.0"\nattribution = "the planetarium"\nconnector = "box'
    )
    file.write_text(text, "utf-8")
    generate(file, root)
    return root
