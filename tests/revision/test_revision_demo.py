"""The demo's history: comparing A with B finds one contact, one erratum and one moved part, and no more."""

import json
import shutil
from pathlib import Path

import pytest
import revision_kit as kit

from boardgen.cli.main import main
from boardgen.errors import InputError
from boardgen.pipeline import check_run, generate
from boardgen.revision.changelog import changelog
from boardgen.revision.compare import compare_runs
from boardgen.revision.model import Firmware
from boardgen.revision.revise import revise
from boardgen.revision.views import as_data, as_html, as_text


def _told(found):
    return {(c.section, c.thing, c.kind) for c in found.changes}


def test_exactly_what_was_changed_is_found(demo):
    found = compare_runs(demo[0], demo[1])
    told = _told(found)
    assert {t for t in told if t[0] not in ("board", "copper")} == {
        ("contacts", "contact 20", "changed"),
        ("signals", "SPARE at contact 20", "new"),
        ("levels", "SPARE, hop 1 (in)", "new"),
        ("pin map", "SPARE", "new"),
        ("nets", "SPARE", "new"),
        ("places", "R4", "changed"),
        ("errata", "A: the key at contact 20 does nothing", "new"),
    }
    assert {t for t in told if t[0] == "board"} <= {
        ("board", "track", "changed"),
        ("board", "vias", "changed"),
    }
    moved = found.of("places")[0]
    assert moved.before == "at 8.128 mm, 28.448 mm"
    assert moved.after == "at 9.398 mm, 28.448 mm"


def test_verdicts_on_the_demo(demo):
    found = compare_runs(demo[0], demo[1])
    assert found.firmware.verdict is Firmware.CODE
    assert found.firmware.reasons == ("SPARE is new",)
    assert len(found.firmware.lines) == 1
    line = found.firmware.lines[0]
    assert line.line_before == 0
    header = (demo[1] / found.firmware.file).read_text("utf-8").split("\n")
    assert header[line.line_after - 1].strip() == line.after
    assert line.after.startswith("#define PIN_SPARE ")
    assert found.enclosure.fits
    assert found.enclosure.reasons == ()


def test_copper_areas_add_up_to_each_board(demo):
    found = compare_runs(demo[0], demo[1])
    there_and_back = compare_runs(demo[1], demo[0])
    for one, two in zip(found.copper, there_and_back.copper, strict=True):
        assert one.side == two.side
        assert one.gone_mm2 == two.new_mm2
        assert one.new_mm2 == two.gone_mm2
        assert one.kept_mm2 == pytest.approx(two.kept_mm2, abs=0.01)
        assert one.gone_mm2 > 1 < one.new_mm2


def test_a_run_compared_with_itself_has_no_changes(demo):
    for run in demo[:2]:
        found = compare_runs(run, run)
        assert found.changes == ()
        assert found.firmware.verdict is Firmware.SAME
        assert found.enclosure.fits
        assert all(area.gone_mm2 == area.new_mm2 == 0 for area in found.copper)
        assert "nothing changed" in as_text(found)


def test_comparing_the_other_way_turns_every_change(demo):
    one, two = compare_runs(demo[0], demo[1]), compare_runs(demo[1], demo[0])
    # A net's or outline's place in the list is by name, so both lists have one order.
    assert tuple(change.turned for change in one.changes) == two.changes


def test_kept_pins_parts_and_hand_work_are_told_in_the_record(demo):
    data = json.loads((demo[1] / "summary.json").read_text("utf-8"))
    assert data["kept"]["asked"] == data["kept"]["stayed"] == 20
    assert data["kept"]["cost_vias"] == data["kept"]["vias"] - data["kept"]["free_vias"]
    assert data["kept"]["cost_mm"] == pytest.approx(
        data["kept"]["length_mm"] - data["kept"]["free_length_mm"]
    )
    told = {(row["kind"], row["thing"]): row["verdict"] for row in data["carried"]}
    assert told == {
        ("part", "R4"): "kept",
        ("outline", "outline"): "kept",
        ("holes", "mounting holes (4)"): "kept",
    }
    assert data["checks"]["fixed faults"] == {"passed": True, "evidence": {"conditions": 2}}
    before = json.loads((demo[0] / "summary.json").read_text("utf-8"))
    was = {row["signal"]: row["pin"] for row in before["pin_map"]["pins"]}
    now = {row["signal"]: row["pin"] for row in data["pin_map"]["pins"]}
    assert {signal: now[signal] for signal in was} == was


def test_both_boards_are_clean(demo):
    for run in demo[:2]:
        report = check_run(run)
        assert not [f for f in report.findings if f.severity == "error"]


def test_the_design_keeps_every_word_of_its_text(demo):
    old = kit.DESIGN.read_text("utf-8").replace('revision = "A"', 'revision = "B"')
    text = demo[2].read_text("utf-8").replace(f"{kit.ERRATUM}\n[holes]", "\n[holes]")
    text = text.replace('kind = "switch"\nsignal = "SPARE"', 'kind = "unused"')
    assert text.startswith(old.rstrip("\n"))
    assert '[[placed]]\nref = "R4"\nx_mm = 9.398\ny_mm = 28.448\nturn = 0.0\nside = "top"' in text
    kept = demo[2].parent / "history" / "A"
    assert (kept / "summary.json").read_bytes() == (demo[0] / "summary.json").read_bytes()
    assert sorted(p.name for p in kept.iterdir()) == [
        "slide_remote_pins.h",
        "slide_remote_pins.json",
        "slide_remote_pins.py",
        "summary.json",
    ]


def test_revising_again_replaces_what_was_taken_over(demo, tmp_path):
    done = revise(demo[1], tmp_path / "c", demo[2])
    text = done.path.read_text("utf-8")
    assert (done.before, done.after) == ("B", "C")
    assert text.count("taken over from revision") == 1
    assert text.count("[stays]") == 1
    assert text.count("[[keep]]") == 21
    assert sorted(p.name for p in (tmp_path / "c" / "history").iterdir()) == ["A", "B"]
    # R4 stands where it did, and still as an entry of its own: what a hand put once stays its work.
    assert '[[placed]]\nref = "R4"\nx_mm = 9.398\n' in text
    run = generate(done.path, tmp_path / "out").folder
    found = compare_runs(demo[1], run)
    assert [change for change in found.changes if change.section != "board"] == []


def test_the_views_tell_the_same(demo, tmp_path, capsys):
    found = compare_runs(demo[0], demo[1])
    data = as_data(found)
    assert data["firmware"]["verdict"] == "needs code change"
    assert data["changes"]["contacts"] == [
        {
            "thing": "contact 20",
            "kind": "changed",
            "before": "unused",
            "after": "switch, signal SPARE",
        }
    ]
    page = as_html(found)
    assert page.count("<svg") == 1
    assert "needs code change" in page
    assert "http" not in page.replace("http://www.w3.org/2000/svg", "")
    entry = changelog(found)
    assert entry.startswith("## slide-remote revision B (from A)\n\n- Firmware: **needs code change**")
    assert "- R4: at 8.128 mm, 28.448 mm before, at 9.398 mm, 28.448 mm now." in entry
    target = tmp_path / "page.html"
    assert main(["compare", str(demo[0]), str(demo[1]), "--to", str(target)]) == 0
    assert target.read_text("utf-8") == page
    capsys.readouterr()
    assert main(["compare", str(demo[0]), str(demo[1]), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == data


def test_tampered_files_are_refused_and_nothing_is_written(demo, tmp_path, capsys):
    run = tmp_path / "run"
    shutil.copytree(demo[1], run)
    place = run / "fab" / "slide-remote-B.GTL"
    place.write_bytes(place.read_bytes() + b"\n")
    target = tmp_path / "out.txt"
    assert main(["compare", str(demo[0]), str(run), "--to", str(target)]) == 2
    said = capsys.readouterr().err
    assert "fab/slide-remote-B.GTL: is not the file that was recorded" in said
    assert said.count("\n") == 1
    assert not target.exists()


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        ("design", "lecture-keypad", "the runs are of different designs"),
        ("tool", "boardgen 0.0.9", "written by another version of the tool"),
        ("places", None, "has no 'places'"),
    ],
)
def test_runs_that_do_not_compare(demo, tmp_path, key, value, words):
    run = tmp_path / "run"
    shutil.copytree(demo[1], run)
    data = json.loads((run / "summary.json").read_text("utf-8"))
    if value is None:
        del data[key]
    else:
        data[key] = value
    (run / "summary.json").write_text(json.dumps(data), "utf-8")
    with pytest.raises(InputError, match=words):
        compare_runs(demo[0], run)


def test_what_is_no_run_is_said_so(tmp_path):
    with pytest.raises(InputError, match="there is no such record"):
        compare_runs(tmp_path, tmp_path)


def test_prices_are_compared_where_they_are_known(demo):
    costs = {demo[0]: {"a board": "4.20 EUR"}, demo[1]: {"a board": "4.35 EUR", "postage": "2 EUR"}}

    def priced(path: Path) -> dict[str, str]:
        return costs[path]

    found = compare_runs(demo[0], demo[1], priced)
    assert {(c.thing, c.before, c.after) for c in found.of("cost")} == {
        ("a board", "4.20 EUR", "4.35 EUR"),
        ("postage", None, "2 EUR"),
    }
    assert found.unknown == ()
