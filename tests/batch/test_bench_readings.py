"""Files of readings and the batch log: what is taken, and one clear error for each thing that is not."""

from __future__ import annotations

import csv
import io
import json
import math
import shutil

import pytest
from hypothesis import given
from hypothesis import strategies as st

from boardgen.batch.log import append, check_serial_new, checked_serial, log_path, read_log
from boardgen.batch.model import Judgement, Verdict
from boardgen.batch.openrun import open_plan
from boardgen.batch.readings import read_readings
from boardgen.batch.values import value_of
from boardgen.batch.yields import batch_yield
from boardgen.cli.main import main
from boardgen.errors import InputError, InputErrors, MachineError
from boardgen.filing import take_lock


@pytest.fixture(scope="module")
def run(run_of):
    return run_of("slide-remote").folder


@pytest.fixture(scope="module")
def plan(run):
    return open_plan(run).plan


def filled(plan, run, column="1", changed=()):
    """The run's own form with one column filled as a good board reads."""
    rows = list(csv.reader(io.StringIO((run / "bringup/readings.csv").read_text())))
    place = rows[3].index(column)
    tests, changed = {t.id: t for t in plan.tests}, dict(changed)
    for row in rows[4:]:
        test = tests[row[0]]
        low, high = test.least or 0.0, test.most
        words = {
            "look": "yes",
            "ohms": "OL" if high is None else f"{(low + (high or 0)) / 2:.4g}",
            "volts": f"{(low + (high or 0)) / 2:.4g} V",
            "amps": f"{(high or 0) * 500:.4g} mA",
        }
        row[place] = changed.get(row[0], words[test.kind])
    out = io.StringIO()
    csv.writer(out).writerows(rows)
    return out.getvalue()


@pytest.fixture
def sheet(tmp_path):
    def write(text: str):
        path = tmp_path / "r.csv"
        path.write_text(text)
        return path

    return write


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("OL", "ohms", math.inf),
        ("open", "ohms", math.inf),
        ("4k7", "ohms", 4700.0),
        ("4.7k", "ohms", 4700.0),
        ("2.2 Mohm", "ohms", 2.2e6),
        ("0.4", "ohms", 0.4),
        ("610 mV", "volts", 0.61),
        ("-0.2V", "volts", -0.2),
        ("45 mA", "amps", 0.045),
        ("0.1", "amps", 0.1),
        ("Yes", "look", 1.0),
        ("bad", "look", 0.0),
    ],
)
def test_values_are_read_as_people_write_them(text, kind, value):
    assert value_of(text, kind) == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("-3", "ohms"),
        ("nan", "ohms"),
        ("inf", "volts"),
        ("1e13", "ohms"),
        ("5m", "ohms"),
        ("2000 V", "volts"),
        ("500 A", "amps"),
        ("5 V", "ohms"),
        ("maybe", "look"),
        ("1,5", "ohms"),
    ],
)
def test_absurd_values_are_none(text, kind):
    assert value_of(text, kind) is None


@given(st.text(max_size=20), st.sampled_from(["ohms", "volts", "amps", "look"]))
def test_no_text_breaks_the_reader(text, kind):
    value = value_of(text, kind)
    assert value is None or not math.isnan(value)


def test_a_filled_form_is_read_whole(run, plan, sheet):
    found = read_readings(sheet(filled(plan, run, "3")), plan, "3")
    assert [reading.test for reading in found] == [test.id for test in plan.tests]


def test_a_table_of_pairs_is_read(plan, sheet):
    found = read_readings(sheet("a,b,value\n5,u1.31,OL\nJ1.5,J1.5/pad,0.1\n"), plan, "x")
    assert [(r.test, r.a, r.b, r.value) for r in found] == [
        ("S05", "J1.5", "U1.31", math.inf),
        ("", "J1.5", "J1.5/pad", 0.1),
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("test,value\nZ99,1\n", "2: test: there is no such test in the plan of this run; found 'Z99'"),
        ("a,b,value\nJ1.5,J7.1,1\n", "2: b: there is no such place on this board; found 'J7.1'"),
        ("test,value\nS05,-4\n", "2: ohms: this is no reading of that kind; found '-4'"),
        ("test,value\nS05,1\nS05,1\n", "3: S05: the same thing is read twice, first in line 2"),
        (
            "revision,B\ntest,value\n",
            "1: revision: the readings are of another board than the run; found 'B'",
        ),
        ("pin map,0\ntest,value\n", "1: pin map: the readings are of another board than the run; found '0'"),
        ("test,a,b,value\nS05,J1.6,U1.31,1\n", "2: a, b: test S05 is between other places"),
        ("test,ohm\nS05,1\n", "1: no column holds this board's readings"),
        ("hello\n", "1: the row is neither about the file nor the heads of its columns; found 'hello'"),
        ("", "there is no row of column heads"),
        ("test,a,b,value\n,,,3\n", "2: a, b: a reading needs a test, or two places"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(plan, sheet, text, words):
    with pytest.raises(InputError) as error:
        read_readings(sheet(text), plan, "1")
    assert f"r.csv:{words}" in str(error.value) or f"r.csv: {words}" in str(error.value)


def test_every_wrong_row_is_told(plan, sheet):
    with pytest.raises(InputErrors) as error:
        read_readings(sheet("test,value\nQ1,1\nS05,x\nS06,OL\n"), plan, "1")
    assert len(error.value.errors) == 2


def test_a_serial_is_plain_text():
    assert checked_serial("A 7") == "A 7"
    for serial in ("", "  ", " 7", "x" * 41, "a\nb"):
        with pytest.raises(InputError, match="this is no serial"):
            checked_serial(serial)


def good(serial, verdict=Verdict.GOOD):
    return Judgement(serial, verdict, (), (), (), 3)


def test_the_log_grows_by_whole_lines(plan, tmp_path):
    log = tmp_path / "log.jsonl"
    append(log, plan, good("1"), again=False)
    first = log.read_bytes()
    append(log, plan, good("2"), again=False)
    assert log.read_bytes().startswith(first)
    with pytest.raises(InputError, match="serial 1 is in the log already, as good"):
        append(log, plan, good("1"), again=False)
    assert len(log.read_text().splitlines()) == 2
    assert append(log, plan, good("1"), again=True).attempt == 2
    assert [path.name for path in tmp_path.iterdir()] == ["log.jsonl"]


def test_a_log_in_use_or_damaged_stays_as_it_is(plan, tmp_path):
    log = tmp_path / "log.jsonl"
    append(log, plan, good("1"), again=False)
    held = take_lock(tmp_path / ".log.jsonl.lock")
    with pytest.raises(MachineError, match="another boardgen is writing this log"):
        append(log, plan, good("2"), again=False)
    held.release()
    whole = log.read_text()
    for text, words in (
        (whole[:-5], "the log ends in the middle of a line"),
        (whole + "{}\n", "2: the line is no entry of a batch log"),
        (whole.replace('"revision": "A"', '"revision": "B"'), "another board revision"),
    ):
        log.write_text(text)
        with pytest.raises(InputError, match=words):
            append(log, plan, good("2"), again=False)
        assert log.read_text() == text
    with pytest.raises(InputError, match="there is no such folder to write into"):
        append(tmp_path / "no" / "log", plan, good("2"), again=False)


def test_yield_takes_the_last_attempt(plan, tmp_path):
    log = tmp_path / "log.jsonl"
    for serial, verdict in (
        ("1", "good"),
        ("2", "faulty"),
        ("3", "incomplete"),
        ("2", "good"),
        ("4", "faulty"),
    ):
        append(log, plan, good(serial, Verdict(verdict)), again=True)
    found = batch_yield(read_log(log, plan))
    assert (found.boards, found.good, found.first_good) == (4, 2, 1)
    assert (found.faulty, found.incomplete) == (("4",), ("3",))
    assert found.share == pytest.approx(2 / 3)
    assert found.faults == (("unexplained", 2),)
    with pytest.raises(InputError, match="in the log already, as faulty"):
        check_serial_new(read_log(log, plan), "4", "log", again=False)


def test_the_log_stands_beside_the_run(tmp_path):
    assert log_path(tmp_path / "x-A") == tmp_path / "x-A.bringup.jsonl"


def test_the_command_judges_logs_and_counts(run, plan, sheet, tmp_path, capsys):
    log = str(tmp_path / "log.jsonl")

    def call(*words: str) -> tuple[int, dict]:
        code = main(["bringup", str(run), *words, "--log", log, "--json"])
        return code, json.loads(capsys.readouterr().out)

    code, answer = call("--serial", "1", "--readings", str(sheet(filled(plan, run))))
    assert (code, answer["verdict"], answer["suspects"]) == (0, "good", [])
    bridged = sheet(filled(plan, run, "2", {"S05": "OL"}))
    code, answer = call("--serial", "2", "--readings", str(bridged))
    assert (code, answer["verdict"], answer["faults"]) == (1, "faulty", ["open joint"])
    assert answer["suspects"][0]["measure"] == ["J1.5", "J1.5/pad"]
    code, answer = call("--serial", "2", "--readings", str(bridged))
    assert code == 2
    code, answer = call("--batch")
    assert (code, answer["boards"], answer["good"], answer["faults"]) == (0, 2, 1, {"open joint": 1})


def test_the_command_points_to_the_sheets(run, capsys):
    assert main(["bringup", str(run)]) == 0
    said = capsys.readouterr().out
    assert "bringup/sheets.pdf" in said
    assert "1. Look, 10 to 30 times enlarged: 7" in said
    for words in (["--batch", "--serial", "1"], ["--serial", "1"], ["--again"]):
        assert main(["bringup", str(run), *words]) == 2


def test_a_run_that_was_touched_is_refused(run, tmp_path, capsys):
    copy = tmp_path / "slide-remote-A"
    shutil.copytree(run, copy)
    (copy / "bringup/plan.json").write_text((run / "bringup/plan.json").read_text().replace("4.4", "3.3"))
    assert main(["bringup", str(copy), "--batch"]) == 2
    assert "bringup/plan.json: is not the file that was recorded" in capsys.readouterr().err
