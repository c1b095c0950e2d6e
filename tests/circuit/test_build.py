import hashlib
import logging
import os
import random
import re
import subprocess
import sys
import uuid
from pathlib import Path

import pytest
from circuit_bench import bound, footprint, pinmap, plan

from boardgen.board.model import NetKind, PartKind
from boardgen.circuit.build import build_netlist, reference_key
from boardgen.errors import Severity

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def netlist():
    return build_netlist(bound(), plan(), pinmap(), footprint)


def nets_of(netlist, ref):
    return {pin.number: pin.net for pin in netlist.part(ref).pins}


def test_nets_come_back_as_planned(netlist):
    assert nets_of(netlist, "J1") == {"1": "ROW0", "2": "COL0", "3": "3V3", "4": "GND", "5": None, "S": "GND"}
    assert nets_of(netlist, "R1") == {"1": "3V3", "2": "ROW0"}
    module = nets_of(netlist, "U1")
    assert {number: net for number, net in module.items() if net} == {
        "1": "3V3",
        "3": "GND",
        "4": "GND",
        "7": "3V3",
        "8": "ROW0",
        "12": "COL0",
    }
    assert [(n.name, n.kind, n.net_class) for n in netlist.nets] == [
        ("3V3", NetKind.SUPPLY, "supply"),
        ("COL0", NetKind.SIGNAL, "signal"),
        ("GND", NetKind.GROUND, "ground"),
        ("ROW0", NetKind.SIGNAL, "signal"),
    ]


def test_roles_are_the_working_mix(netlist):
    roles = {pin.number: pin.role for pin in netlist.part("U1").pins}
    assert roles["1"] == "power-out"
    assert roles["7"] == "passive"  # the same rail again: two sources on a net would clash
    assert roles["2"] == roles["5"] == "passive"
    assert roles["3"] == roles["4"] == "power-in"
    assert roles["6"] == "no-connect"
    assert {roles[n] for n in ("8", "9", "12")} == {"bidirectional"}
    assert {pin.role for ref in ("J1", "R1") for pin in netlist.part(ref).pins} == {"passive"}


def test_a_sound_circuit_has_no_finding(netlist):
    assert netlist.findings == ()


def test_parts_carry_what_later_stages_print(netlist):
    assert [part.ref for part in netlist.parts] == ["J1", "R1", "U1"]
    resistor = netlist.part("R1")
    assert (resistor.mpn, resistor.near, resistor.why) == ("RES-4K7", "1", "pulls ROW0 up")
    assert [netlist.part(ref).kind for ref in ("J1", "R1", "U1")] == [
        PartKind.CONNECTOR,
        PartKind.COMPONENT,
        PartKind.MODULE,
    ]
    assert [pin.name for pin in netlist.part("J1").pins] == ["ROW0", "COL0", "VCC", "0V", "spare", "SHELL"]


def test_stamps_are_those_in_the_netlist_file(netlist):
    space = uuid.UUID("7026fcc6-e1a0-409e-aaf4-6a17ea82654f")
    for part in netlist.parts:
        assert part.stamp == str(uuid.uuid5(space, f".{part.ref}"))
        assert part.stamp in netlist.text


def test_the_file_names_every_net_and_no_date_or_path(netlist):
    assert re.findall(r'\(date "([^"]*)"\)', netlist.text) == [""]
    assert set(re.findall(r'\(source "([^"]*)"\)', netlist.text)) == {""}
    for net in netlist.nets:
        assert f'(name "{net.name}")' in netlist.text


def test_two_sources_on_a_net_are_found():
    clash = (("1", "3V3"), ("2", "3V3"), ("3", "GND"), ("4", "GND"))
    found = build_netlist(bound(), plan(clash), pinmap(), footprint).findings
    errors = [f for f in found if f.severity is Severity.ERROR]
    assert len(errors) == 1
    assert errors[0].rule == "erc"
    assert "Pin conflict on net 3V3" in errors[0].message
    assert errors[0].items == ("U1",)


def test_a_net_with_one_pin_is_found():
    rows = pinmap()
    short = type(rows)(rows.choices[:1], (), 0.0, 0.0, 0)
    found = build_netlist(bound(), plan(), short, footprint).findings
    assert [(f.rule, f.severity) for f in found] == [("erc", Severity.WARNING)]
    assert "COL0" in found[0].message


def test_the_same_input_gives_the_same_netlist(netlist):
    assert build_netlist(bound(), plan(), pinmap(), footprint) == netlist


SCRIPT = """
import sys, hashlib, pickle
sys.path.insert(0, sys.argv[1])
from circuit_bench import bound, footprint, pinmap, plan
from boardgen.circuit.build import build_netlist
netlist = build_netlist(bound(), plan(), pinmap(), footprint)
print(hashlib.sha256(repr(netlist).encode()).hexdigest())
"""


def run_apart(folder, seed):
    env = {
        "PATH": os.environ["PATH"],
        "HOME": str(folder / "home"),
        "PYTHONHASHSEED": seed,
        "PYTHONDONTWRITEBYTECODE": "1",
    }
    command = [sys.executable, "-c", SCRIPT, str(HERE)]
    return subprocess.run(command, cwd=folder, env=env, capture_output=True, text=True, check=True)


@pytest.mark.parametrize("seed", ["1", "77"])
def test_hash_seed_and_folder_change_nothing_and_nothing_is_left(tmp_path, netlist, seed):
    (tmp_path / "home").mkdir()
    for name in ("-c.log", "-c.erc", "skidl.log", "skidl.erc"):
        (tmp_path / name).write_text("the user's own")
    tmp_path.chmod(0o555)
    try:
        done = run_apart(tmp_path, seed)
    finally:
        tmp_path.chmod(0o755)
    assert done.stderr == ""
    assert done.stdout.strip() == hashlib.sha256(repr(netlist).encode()).hexdigest()
    assert sorted(p.name for p in tmp_path.rglob("*")) == [
        "-c.erc",
        "-c.log",
        "home",
        "skidl.erc",
        "skidl.log",
    ]
    assert all(p.read_text() == "the user's own" for p in tmp_path.iterdir() if p.is_file())


def test_the_door_leaves_the_process_as_it_was(tmp_path, monkeypatch, capfd):
    monkeypatch.chdir(tmp_path)
    random.seed(5)
    before = (random.getstate(), logging.getLoggerClass(), logging.root.manager.disable, dict(os.environ))
    build_netlist(bound(), plan(), pinmap(), footprint)
    after = (random.getstate(), logging.getLoggerClass(), logging.root.manager.disable, dict(os.environ))
    assert before == after
    assert Path.cwd() == tmp_path
    assert list(tmp_path.iterdir()) == []
    assert capfd.readouterr() == ("", "")


def test_references_sort_by_letter_then_number():
    refs = ["R10", "C2", "R2", "U1", "C10", "10", "9"]
    assert sorted(refs, key=reference_key) == ["9", "10", "C2", "C10", "R2", "R10", "U1"]
