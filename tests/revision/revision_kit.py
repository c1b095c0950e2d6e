"""The demo's history: a remote whose revision B has one more key, one erratum and one part moved by hand."""

import shutil
from pathlib import Path

import boardgen
from boardgen.pipeline import generate
from boardgen.revision.revise import revise

DESIGN = Path(boardgen.__file__).parent.parent / "designs" / "slide-remote" / "design.toml"
CAD = "cad/slide-remote.kicad_pcb"
ERRATUM = """
[[errata]]
revision = "A"
symptom = "the key at contact 20 does nothing"
cause = "contact 20 was taken for unused"
workaround = "none: the contact is not wired"
fixed_in = "B"

[[errata.check]]
net = "SPARE"
joins = ["J1.20"]

[[errata.check]]
signal = "SPARE"
margin_v = 0.3
"""


def write_design(folder: Path, text: str | None = None) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "design.toml").write_text(DESIGN.read_text("utf-8") if text is None else text, "utf-8")
    return folder


def move_by_hand(run: Path, ref: str, dx_mm: float, dy_mm: float) -> tuple[float, float]:
    """Shift a part in the CAD file as a person would; returns where it stood on the sheet, mm."""
    path = run / CAD
    text = path.read_text("utf-8")
    here = text.index(f'(fp_text reference "{ref}"')
    start = text.rindex("(footprint ", 0, here)
    at = text.index("(at ", start) + 4
    end = text.index(")", at)
    x, y, *turn = text[at:end].split()
    moved = " ".join([f"{float(x) + dx_mm:.6f}", f"{float(y) + dy_mm:.6f}", *turn])
    path.write_text(text[:at] + moved + text[end:], "utf-8")
    return float(x), float(y)


def history(folder: Path) -> tuple[Path, Path, Path]:
    """Make run A, edit its CAD file in a copy, revise, make run B; returns both runs and the design of B."""
    design = write_design(folder / "design")
    run_a = generate(design, folder / "a").folder
    edited = folder / "edited"
    shutil.copytree(run_a, edited)
    move_by_hand(edited, "R4", 1.27, 0.0)
    done = revise(edited, folder / "b-design", design)
    text = done.path.read_text("utf-8")
    text = text.replace(
        'number = 20\nkind = "unused"', 'number = 20\nkind = "switch"\nsignal = "SPARE"'
    ).replace("\n[holes]\n", f"{ERRATUM}\n[holes]\n")
    done.path.write_text(text, "utf-8")
    return run_a, generate(done.path, folder / "b").folder, done.path
