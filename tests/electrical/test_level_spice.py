"""A circuit simulator on the same lines: levels reached and settling within 5 %, or on the safe side."""

import re
import subprocess
from dataclasses import replace
from shutil import which

import pytest
from plan_judge import CATALOG

from boardgen.electrical.channel import Channel, channel_fall
from boardgen.electrical.ends import End, Supply, pin_end
from boardgen.electrical.prove import Net, prove
from boardgen.electrical.ways.fet import CISS_PF, COSS_PF

pytestmark = pytest.mark.skipif(which("ngspice") is None, reason="no circuit simulator here")

FIVE = Supply("5V", 5.0)
THREE = Supply("3V3", 3.3, tolerance=0.0)
# a small N-channel MOSFET with the capacitances of a BSS138 between its pins
FET = ".model fet nmos(level=1 vto=1.3 kp=0.3 cgso=0 cgdo=0 cbd=0 cbs=0)\n"
KP = 0.3  # A/V^2, as in the model
CGD, CGS, CDS = 6.0, 21.0, 7.0  # pF: Crss, Ciss - Crss, Coss - Crss


def simulate(tmp_path, netlist, analysis, *measures):
    text = f"* a line\n{netlist}{analysis}\n" + "".join(f".meas {m}\n" for m in measures) + ".end\n"
    (tmp_path / "line.cir").write_text(text)
    said = subprocess.run(
        ["ngspice", "-b", "line.cir"], cwd=tmp_path, capture_output=True, text=True, check=False
    ).stdout
    found = {
        name: float(value) for name, value in re.findall(r"^(\w+)\s+=\s+([-+.\de]+)", said, re.MULTILINE)
    }
    assert found, said
    return found


def chip(family, supply=FIVE, **more):
    logic = CATALOG.logic_family(family).levels
    return End(family, supply, replace(logic, **more))


def esp():
    entry = CATALOG.module("esp32-devkitc")
    return pin_end(entry, entry.pin("16"))


def test_a_divider_reaches_its_level_and_settles_as_computed(tmp_path):
    reader = esp()
    net = Net(10_000.0, 18_000.0, line_pf=70.0)
    proof = prove("in", chip("cd4000b"), reader, net)
    pf = 70.0 + reader.logic.input_pf
    drive = proof.voh_v / net.share(-1)  # what the chip gives at its own end
    # tolerances cancel in R1 parallel R2 but for a thousandth
    netlist = f"Vd d 0 pulse(0 {drive} 0 1n 1n 1 2)\nR1 d m 10.5k\nR2 m 0 17.1k\nC1 m 0 {pf}p ic=0\n"
    found = simulate(
        tmp_path, netlist, ".tran 2n 12u uic",
        f"tran rise when v(m)={proof.vih_v} rise=1", "tran level max v(m)",
    )  # fmt: skip
    assert found["level"] == pytest.approx(proof.voh_v, rel=0.005)
    assert found["rise"] == pytest.approx(proof.settle_s, rel=0.05)
    top = simulate(
        tmp_path, "Vd d 0 5.25\nR1 d m 9.5k\nR2 m 0 18.9k\nC1 m 0 1p\n", ".tran 1n 1u", "tran most max v(m)"
    )
    assert top["most"] == pytest.approx(proof.most_v, rel=0.005)


@pytest.mark.parametrize(("ohms", "metres"), [(10_000.0, 1.0), (4_700.0, 3.0), (2_200.0, 8.0)])
def test_a_pull_up_settles_through_cable_as_computed(tmp_path, ohms, metres):
    device = chip("74ls", output="open-drain")
    reader = esp()
    pf = 10.0 + 60.0 * metres
    proof = prove("in", device, reader, Net(up=(ohms, THREE), line_pf=pf))
    netlist = f"Vdd vdd 0 3.3\nRup vdd m {ohms}\nCb m 0 {10 + reader.logic.input_pf}p ic=0\nIl m 0 10u\n"
    here, n = "m", 20
    for k in range(n):  # the cable as a ladder: 500 nH and 60 pF a metre
        netlist += f"L{k} {here} w{k} {500 * metres / n}n ic=0\nC{k} w{k} 0 {60 * metres / n}p ic=0\n"
        here = f"w{k}"
    end = proof.settle_s * 4
    found = simulate(
        tmp_path, netlist, f".tran {end / 2000} {end} uic", f"tran rise when v(m)={proof.vih_v} rise=1"
    )
    assert found["rise"] == pytest.approx(proof.settle_s, rel=0.05)


def test_a_pulled_line_falls_to_the_computed_level(tmp_path):
    device = chip("74ls", output="open-drain")
    proof = prove("in", device, esp(), Net(up=(1_000.0, THREE)))
    # an output that keeps 0.4 V at 4 mA, pulled up by 1 kohm less 5 %
    assert proof.low_a == pytest.approx(3.3 / 950 + 1e-6, rel=0.01)
    netlist = "Vdd vdd 0 3.3\nRup vdd m 950\nRo m 0 100\nC1 m 0 10p\n"
    found = simulate(tmp_path, netlist, ".tran 1n 1u", "tran low max v(m)")
    assert found["low"] <= proof.vol_v


def far_side(release, ohms, metres, threshold):
    """Return the proof of a 3.3 V pin through a FET to a 5 V reader, and the circuit of its rising edge."""
    five = replace(FIVE, tolerance=0.0)
    far = chip("74hc", five)
    pin = replace(esp(), logic=replace(esp().logic, output="open-drain"))
    beside_pf = 10.0 + CISS_PF - COSS_PF
    # driven high the body diode goes on where the channel ends: 0.62 V at the pull-up's current
    channel = Channel(
        3.3 - threshold,
        (ohms, 3.3) if release == "let go" else None,
        beside_pf,
        CDS,
        max(3.3 - threshold, 3.3 - 0.62),
    )
    pf = 10.0 + 60.0 * metres
    net = Net(up=(ohms, five), line_pf=pf + COSS_PF, switch_ohms=18.0, sink_a=3.3 / ohms, channel=channel)
    netlist = (
        FET.replace("vto=1.3", f"vto={threshold}")
        + f"Vh vh 0 5\nVl vl 0 3.3\nRs vl s {ohms}\nRd vh d {ohms}\n"
        + f"M1 d vl s s fet\nCl d 0 {pf + far.logic.input_pf}p\nCs s 0 10p\n"
        + f"Cgd d vl {CGD}p\nCgs vl s {CGS}p\nCds d s {CDS}p\nIl d 0 10u\n"
    )
    return prove("out", pin, far, net), netlist


RELEASE = {
    "driven high": "Vp p 0 pulse(0 3.3 1u 5n 5n 20u 40u)\nRp p s 5\n",
    "let go": "Vp p 0 pulse(0 3.3 1u 5n 5n 20u 40u)\nVq q 0 pulse(3.3 0 1u 5n 5n 20u 40u)\n"
    "S1 s 0 q 0 sw\n.model sw sw(vt=1.6 ron=50 roff=1g)\n",
}


@pytest.mark.parametrize("release", ["driven high", "let go"])
@pytest.mark.parametrize(
    ("ohms", "metres", "threshold"), [(10_000.0, 1.0, 1.3), (10_000.0, 0.5, 0.8), (4_700.0, 3.0, 1.5)]
)
def test_a_fet_lifts_a_line_to_5v_as_computed(tmp_path, release, ohms, metres, threshold):
    """Driven high the channel brings it to VG - VTH; let go, both pull-ups do; then the far one alone."""
    proof, netlist = far_side(release, ohms, metres, threshold)
    found = simulate(
        tmp_path, netlist + RELEASE[release], ".tran 1n 14u",
        f"tran rise trig v(p) val=1.65 rise=1 targ v(d) val={proof.vih_v} rise=1",
        "tran low max v(d) from=0.5u to=0.9u", "tran high max v(d) from=12u to=14u",
    )  # fmt: skip
    assert found["rise"] == pytest.approx(proof.settle_s, rel=0.05)
    assert found["low"] <= proof.vol_v  # the resistance of the pin and the channel, against both pull-ups
    assert found["high"] == pytest.approx(proof.voh_v, rel=0.05)


def near_side(lets_go, ohms, threshold, metres=1.0, across=False):
    """Return the proof of a 5 V device through a FET to a 3.3 V pin, and the circuit of its rising edge."""
    device = replace(chip("74hc"), logic=replace(chip("74hc").logic, output="open-drain"))
    reader = esp()
    pf = 10.0 + 60.0 * metres
    channel = Channel(3.3 - threshold, (ohms, 5.0) if lets_go else None, pf, CDS)
    net = Net(
        up=(ohms, THREE), line_pf=10.0 + CISS_PF, switch_ohms=1 / (KP * (3.3 - threshold)), channel=channel
    )
    # a device that drives high pushes some of its edge across the FET, which helps and is not counted
    far = "d" if lets_go or across else "0"
    netlist = (
        FET.replace("vto=1.3", f"vto={threshold}")
        + f"Vl vl 0 3.3\nRs vl s {ohms}\nM1 d vl s s fet\nCs s 0 {10.0 + reader.logic.input_pf}p\n"
        + f"Cgd d vl {CGD}p\nCgs vl s {CGS}p\nCds {far} s {CDS}p\nIl s 0 10u\nCl d 0 {pf}p\n"
    )
    return prove("in", device, reader, net), netlist


DRIVEN = "Vp p 0 pulse(0 5.25 1u 5n 5n 20u 40u)\nRp p d 5\n"


def driven_rise(tmp_path, netlist, vih_v):
    return simulate(
        tmp_path, netlist + DRIVEN, ".tran 1n 12u",
        f"tran rise trig v(p) val=2.6 rise=1 targ v(s) val={vih_v} rise=1",
        "tran most max v(s) from=5u to=11u",
    )  # fmt: skip


@pytest.mark.parametrize(("ohms", "threshold"), [(10_000.0, 1.3), (10_000.0, 1.5), (4_700.0, 1.5)])
def test_a_fet_brings_5v_down_as_computed(tmp_path, ohms, threshold):
    proof, netlist = near_side(False, ohms, threshold)
    found = driven_rise(tmp_path, netlist, proof.vih_v)
    assert found["rise"] == pytest.approx(proof.settle_s, rel=0.05)
    assert found["most"] <= proof.most_v * 1.02


def test_what_comes_across_a_fet_only_helps(tmp_path):
    proof, netlist = near_side(False, 10_000.0, 1.5, across=True)
    assert 0 < driven_rise(tmp_path, netlist, proof.vih_v)["rise"] < proof.settle_s


@pytest.mark.parametrize(("ohms", "threshold"), [(10_000.0, 1.3), (4_700.0, 1.5), (2_200.0, 0.8)])
def test_a_device_that_lets_go_of_a_fet_is_read_as_computed(tmp_path, ohms, threshold):
    proof, netlist = near_side(True, ohms, threshold)
    netlist += f"Vh vh 0 5\nRd vh d {ohms}\n" + RELEASE["let go"].replace("S1 s", "S1 d")
    found = simulate(
        tmp_path, netlist, ".tran 1n 12u",
        f"tran rise trig v(p) val=1.65 rise=1 targ v(s) val={proof.vih_v} rise=1",
    )  # fmt: skip
    assert found["rise"] == pytest.approx(proof.settle_s, rel=0.05)


@pytest.mark.parametrize("on_ohms", [6.0, 18.0, 60.0])
@pytest.mark.parametrize("to_v", [2.5, 1.5, 0.8])
def test_a_fet_pulls_the_far_side_down_as_computed(tmp_path, on_ohms, to_v):
    over, pf = 1.8, 200.0
    kp = 1 / (on_ohms * over)
    netlist = (
        f".model fet nmos(level=1 vto=1.5 kp={kp} cgso=0 cgdo=0 cbd=0 cbs=0)\n"
        + f"Vl vl 0 3.3\nVh vh 0 5\nRd vh d 1meg\nCl d 0 {pf}p\nM1 d vl s s fet\n"
        + "Vs s 0 pulse(3.3 0 100n 1p 1p 1 2)\n"
    )
    found = simulate(
        tmp_path, netlist, ".tran 0.02n 250n",
        f"tran fall trig v(s) val=1.65 fall=1 targ v(d) val={to_v} fall=1",
    )  # fmt: skip
    assert found["fall"] == pytest.approx(channel_fall(Channel(over), on_ohms, pf, (5.0, to_v)), rel=0.05)
