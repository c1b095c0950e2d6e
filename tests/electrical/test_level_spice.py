"""A circuit simulator on the same lines: levels reached and settling within 5 %, or on the safe side."""

import re
import subprocess
from dataclasses import replace
from shutil import which

import pytest
from plan_judge import CATALOG

from boardgen.electrical.ends import End, Supply, pin_end
from boardgen.electrical.prove import Net, prove
from boardgen.electrical.ways.fet import CISS_PF, COSS_PF

pytestmark = pytest.mark.skipif(which("ngspice") is None, reason="no circuit simulator here")

FIVE = Supply("5V", 5.0)
THREE = Supply("3V3", 3.3, tolerance=0.0)
# a small N-channel MOSFET with the capacitances of a BSS138 between its pins
FET = ".model fet nmos(level=1 vto=1.3 kp=0.3 cgso=0 cgdo=0 cbd=0 cbs=0)\n"
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


@pytest.mark.parametrize("release", ["driven high", "let go"])
def test_a_fet_lifts_a_line_to_5v_no_later_than_computed(tmp_path, release):
    """The far side rises by its pull-up; what the channel and the body diode add comes on top."""
    five = replace(FIVE, tolerance=0.0)
    far = chip("74hc", five)
    pin = replace(esp(), logic=replace(esp().logic, output="open-drain"))
    net = Net(up=(10_000.0, five), line_pf=70.0 + COSS_PF, switch_ohms=18.0, sink_a=3.3 / 10_000)
    proof = prove("out", pin, far, net)
    netlist = (
        FET
        + "Vh vh 0 5\nVl vl 0 3.3\nRs vl s 10k\nRd vh d 10k\n"
        + f"M1 d vl s s fet\nCl d 0 {70.0 + far.logic.input_pf}p\nCs s 0 10p\n"
        + f"Cgd d vl {CGD}p\nCgs vl s {CGS}p\nCds d s {CDS}p\nIl d 0 10u\n"
        + "Vp p 0 pulse(0 3.3 1u 5n 5n 20u 40u)\n"
    )
    if release == "driven high":
        netlist += "Rp p s 50\n"
    else:
        netlist += (
            "Vq q 0 pulse(3.3 0 1u 5n 5n 20u 40u)\nS1 s 0 q 0 sw\n.model sw sw(vt=1.6 ron=50 roff=1g)\n"
        )
    found = simulate(
        tmp_path, netlist, ".tran 2n 14u",
        f"tran rise trig v(p) val=1.65 rise=1 targ v(d) val={proof.vih_v} rise=1",
        "tran low max v(d) from=0.5u to=0.9u", "tran high max v(d) from=12u to=14u",
    )  # fmt: skip
    assert 0 < found["rise"] <= proof.settle_s * 1.02
    assert found["low"] <= proof.vol_v  # 50 ohm of the pin and the channel, against both pull-ups
    assert found["high"] == pytest.approx(proof.voh_v, rel=0.05)


def test_a_fet_brings_5v_down_no_later_than_computed(tmp_path):
    device = replace(chip("74hc"), logic=replace(chip("74hc").logic, output="open-drain"))
    reader = esp()
    proof = prove("in", device, reader, Net(up=(10_000.0, THREE), line_pf=10.0 + CISS_PF, switch_ohms=18.0))
    netlist = (
        FET
        + f"Vl vl 0 3.3\nRs vl s 10k\nM1 d vl s s fet\nCs s 0 {10.0 + reader.logic.input_pf}p\n"
        + f"Cgd d vl {CGD}p\nCgs vl s {CGS}p\nCds d s {CDS}p\n"
        + "Vp p 0 pulse(0 5.25 1u 20n 20n 20u 40u)\nRp p d 150\n"
    )
    found = simulate(
        tmp_path, netlist, ".tran 2n 12u",
        f"tran rise trig v(p) val=2.6 rise=1 targ v(s) val={proof.vih_v} rise=1",
        "tran most max v(s) from=5u to=11u",
    )  # fmt: skip
    assert 0 < found["rise"] <= proof.settle_s * 1.02
    assert found["most"] <= proof.most_v * 1.02
