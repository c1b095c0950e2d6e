"""What report, record and firmware say of levels, supplies and assumptions."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from html import unescape

import pytest

from boardgen.electrical.model import LevelProof, SignalPlan
from boardgen.electrical.power.model import BackPath, Heat, Load, Node, PowerTree, Source, Step
from boardgen.export.firmware import c_header, pin_json, python_module
from boardgen.export.firmware_power import c_power, json_power, python_power
from boardgen.export.power_data import power_data
from boardgen.export.power_report import power_html
from boardgen.export.signal_data import assumptions, hop_row, least_margin, proofs_by_signal, signal_rows
from boardgen.export.signal_report import assumed_html, signals_html

PROOF = LevelProof(
    "in", "74LS", "5 V", "Chip", "3.3 V", 2.7, 2.0, 0.4, 0.8, 0.7, 0.4, 5.25, 5.5, None, settle_s=2e-6,
    settle_most_s=10e-6,
)  # fmt: skip


def words(html):
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", html))).replace("\u00a0", " ")


def with_proofs(bundle, signal, proofs, assumed=()):
    signals = tuple(
        replace(s, proofs=tuple(proofs), assumed=tuple(assumed)) if s.contact.signal == signal else s
        for s in bundle.plan.signals
    )
    return replace(bundle, plan=replace(bundle.plan, signals=signals))


def test_the_record_has_every_hop_of_every_contact(built):
    bundle = built("dome-fader").bundle
    rows = {row["signal"]: row for row in signal_rows(bundle)}
    assert len(signal_rows(bundle)) == len(bundle.plan.signals)
    clock = rows["CLOCK"]
    assert clock["wire"] == "yellow"
    assert clock["contact"] == "5"
    assert [hop["direction"] for hop in clock["hops"]] == ["out", "out"]
    assert clock["hops"][0]["reader"] == clock["hops"][1]["driver"]
    pin = bundle.pinmap.pin_of("CLOCK")
    assert (clock["pin"], clock["module_pin"], clock["pin_why"]) == (pin.pin_name, pin.pin_number, pin.why)
    for row in rows.values():
        for hop in row["hops"]:
            assert hop["passes"]
            assert hop["margin_high_v"] == pytest.approx(
                hop["high_least_v"] - hop["reads_high_from_v"], abs=2e-4
            )
            assert hop["margin_low_v"] == pytest.approx(hop["reads_low_to_v"] - hop["low_most_v"], abs=2e-4)
            assert hop["high_most_v"] <= hop["takes_powered_v"]
    json.dumps(signal_rows(bundle), allow_nan=False)


def test_a_proof_without_figures_stays_valid_json():
    bare = replace(PROOF, voh_v=None, margin_high_v=None, over_a=float("inf"), settle_s=float("inf"))
    row = hop_row(bare)
    assert row["high_least_v"] is None
    assert row["over_a"] is None
    assert row["settle_us"] is None
    json.dumps(row, allow_nan=False)


def test_lines_of_a_matrix_have_the_levels_of_its_study(built):
    bundle = built("lecture-keypad").bundle
    (study,) = bundle.plan.matrices
    proofs = proofs_by_signal(bundle)
    assert set(study.wiring.read) <= proofs.keys()
    assert set(study.wiring.driven) <= proofs.keys()
    (strobe,) = proofs[study.wiring.driven[0]]
    assert (strobe.direction, strobe.vol_v, strobe.passes) == ("out", study.level.low_v, True)
    (proof,) = proofs[study.wiring.read[0]]
    assert proof.vol_v == study.level.low_v
    assert proof.margin_high_v == study.high.margin_v
    assert least_margin(proofs) == pytest.approx(min(study.level.margin_v, study.high.margin_v))


def test_the_table_marks_what_fails_and_what_is_least(built):
    bundle = built("dome-fader").bundle
    good = signals_html(bundle)
    assert 'class="v m fails' not in good
    assert good.count("worst") >= 1
    bad = replace(PROOF, vol_v=1.0, margin_low_v=-0.2, allowed_v=3.6, over_a=0.01)
    html = signals_html(with_proofs(bundle, "DATA", [bad]))
    assert html.count('class="v m fails worst"') == 1
    assert "1 of 5 levels NOT proved; the least margin is -0.20 V, at DATA." in words(html)
    assert '<td class="v fails">3.60</td>' in html
    assert "2 of 10 µs" in words(html)


def test_a_thin_margin_is_marked_apart(built):
    thin = replace(PROOF, vol_v=0.7, margin_low_v=0.1)
    html = signals_html(with_proofs(built("dome-fader").bundle, "DATA", [thin]))
    assert 'class="v m thin worst"' in html


def test_open_contacts_stand_in_one_row(built):
    bundle = built("slide-remote").bundle
    text = words(signals_html(bundle))
    assert "left open 20, 25" in text
    for plan in bundle.plan.signals:
        assert plan.contact.signal in text


def test_what_is_assumed_alike_of_several_lines_is_said_once(built):
    bundle = built("slide-remote").bundle
    kept = [s.contact.signal for s in bundle.plan.signals if s.proofs][:2]
    for signal in (s.contact.signal for s in bundle.plan.signals):
        bundle = with_proofs(bundle, signal, (), [f"the chip at {signal} is slow"] if signal in kept else [])
    found = dict(assumptions(bundle))
    assert found["the chip at each line is slow"] == tuple(kept)
    assert found[bundle.plan.power.assumed[0]] == ("supplies",)
    assert "the chip at each line is slow" in words(assumed_html(bundle))
    one = with_proofs(bundle, kept[1], (), [])
    assert dict(assumptions(one))[f"the chip at {kept[0]} is slow"] == (kept[0],)


def test_a_plan_without_assumptions_has_no_such_part(built):
    bundle = built("dome-fader").bundle
    signals = tuple(replace(s, assumed=()) for s in bundle.plan.signals)
    assert assumed_html(replace(bundle, plan=replace(bundle.plan, signals=signals, power=None))) == ""


TREE = PowerTree(
    sources=(Source("USB", "USB", 5.0, 4.4, 5.25, 0.5), Source("cell <1>", "CELL", 5.0, 4.5, 5.5, None)),
    steps=(Step("USB", "5V", "wire", True), Step("CELL", "5V", "D1", False, 0.4, on_board=True)),
    loads=(Load("5V", "the module", 0.1), Load("5V", "a */ lamp", 0.123)),
    nodes=(Node("USB", 5.0, 4.4, 5.25, 0.223, 0.0, None), Node("5V", 5.0, 4.1, 5.25, 0.223, 0.5, 0.4)),
    back_paths=(
        BackPath("USB", "cell <1>", ("wire", "D1"), "D1"),
        BackPath("cell <1>", "USB", ("D1", "wire"), ""),
    ),
    heats=(Heat("hot", 0.9, 140.0, 125.0), Heat("idle", 0.0, 40.0, 125.0), Heat("other", 0.1, None, 125.0)),
    usb_a=0.223,
    usb_ma=230,
    radio_a=0.3,
    inrush_uf=4.7,
    assumed=("a thing", "10 uF and more"),
)


def test_the_supply_s_part_of_the_report_says_what_is_wrong():
    html = power_html(TREE)
    assert power_html(None) == ""
    assert html.count("fails") == 3  # the rail's load, the hot regulator, the open way
    assert "cell &lt;1&gt;" in html
    assert "cell <1>" not in html
    text = words(html)
    assert "NOT BLOCKED" in text
    assert "bMaxPower 115 (230 mA, it counts in 2 mA)" in text
    assert "A radio adds in bursts 300 mA" in text
    assert "4.7 µF; USB allows 10 µF in all" in text
    assert "idle" not in text
    assert "the source gives 500 mA" in text
    alone = replace(TREE, sources=TREE.sources[:1], back_paths=())
    assert "There is one source only" in words(power_html(alone))


def test_the_supply_as_data():
    assert power_data(None) is None
    data = power_data(TREE)
    assert data is not None
    assert data["usb_ma"] == 230
    assert data["back_paths"][1] == {
        "from": "cell <1>",
        "into": "USB",
        "through": ["D1", "wire"],
        "blocked_by": "",
    }
    assert data["heats"][2]["junction_c"] is None
    json.dumps(data, allow_nan=False)


def test_firmware_gets_the_current_to_declare_and_what_it_rests_on(built):
    space: dict[str, object] = {}
    exec("\n".join(python_power(TREE)), space)
    assert space["USB_MAX_POWER_MA"] == 230
    lines = c_power(TREE)
    assert lines[-1] == "#define USB_MAX_POWER_MA 230"
    assert sum("*/" in line for line in lines) == 1  # a load's name does not end the comment
    assert " *   a thing" in lines
    assert not any("uF" in line for line in lines)
    assert json_power(TREE)["usb_max_power_ma"] == 230
    unknown = replace(TREE, usb_ma=None, usb_a=None)
    assert (c_power(unknown), python_power(unknown), json_power(None)) == ([], [], {})
    bundle = built("slide-remote").bundle
    declared = bundle.plan.power.usb_ma
    assert f"#define USB_MAX_POWER_MA {declared}\n" in c_header(bundle)
    assert f"USB_MAX_POWER_MA = {declared}\n" in python_module(bundle)
    assert json.loads(pin_json(bundle))["usb_max_power_ma"] == declared


@pytest.mark.parametrize("name", ["lecture-keypad", "dome-fader"])
def test_the_whole_report_holds_no_object_s_address_and_every_part(run_of, name):
    result = run_of(name)
    html = (result.folder / "report.html").read_text("utf-8")
    assert "built-in method" not in html
    assert " object at 0x" not in html
    heads = re.findall(r"<h2>([^<]+)</h2>", html)
    assert "Signals: how each is carried, and why that is safe" in heads
    assert {"Supply", "What was assumed", "What was checked"} <= set(heads)
    assert "pins at boot" in html
    summary = json.loads((result.folder / "summary.json").read_text("utf-8"))
    assert summary["checks"]["pins at boot"]["passed"]
    assert summary["power"]["usb_ma"] > 0
    assert all(row["text"] and row["for"] for row in summary["assumed"])
    assert all("hops" in row for row in summary["signals"])


def test_names_are_escaped_in_the_table(built):
    bundle = built("dome-fader").bundle
    first = bundle.plan.signals[0]
    evil = replace(first, contact=replace(first.contact, wire="<b>x"), why="<script>")
    assert isinstance(evil, SignalPlan)
    plan = replace(bundle.plan, signals=(evil, *bundle.plan.signals[1:]))
    html = signals_html(replace(bundle, plan=plan))
    assert "<script>" not in html
    assert "&lt;b&gt;x" in html
