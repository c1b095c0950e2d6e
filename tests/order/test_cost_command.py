"""The command: what it prints, draws and returns, and what it refuses."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ET
from decimal import Decimal
from pathlib import Path

import pytest
from cost_kit import HEAD, shop, write_run

from boardgen.catalog.load import load_catalog
from boardgen.cli.main import main
from boardgen.design.load import load_design
from boardgen.errors import InputError
from boardgen.order.cost import cost_of_run, estimate, order_facts, order_total
from boardgen.order.cost_facts import facts_of_run, like
from boardgen.order.preflight import ordered_run
from boardgen.order.prices import load_prices

DEMO = Path(__file__).parents[2] / "designs" / "prices.toml"
ROWS = (
    ("R1 R2", "2", "10k", "resistor-axial-10.16", "Yageo", "CFR-25JB-52-10K", "", "", ""),
    ("R7", "1", "10k", "resistor-axial-10.16", "Yageo", "CFR-25JB-52-10K", "", "", "another note"),
    ("R8", "1", "4k7", "resistor-axial-10.16", "Yageo", "CFR-25JB-52-4K7", "", "DNP", ""),
    ("U1", "1", "Pico 2", "module-pico-2", "", "", "", "", ""),
)
PRICES = shop("each = [[1, 2], [10, 1.5]]") + (
    '[[parts]]\nid = "resistor-axial-quarter"\nbreaks = [[1, 0.10]]\n'
    '[[parts]]\nid = "pico-2"\nbreaks = [[1, 5.60]]\n'
    '[[parts]]\nid = "of-another-catalogue"\nbreaks = [[1, 1]]\n'
)


@pytest.fixture
def place(tmp_path):
    (tmp_path / "p.toml").write_text(HEAD + PRICES, "utf-8")
    write_run(tmp_path, ROWS)
    return tmp_path


def cost(place: Path, *more: str) -> int:
    return main(["cost", str(place / "desk-A"), "--prices", str(place / "p.toml"), *more])


def test_parts_of_one_number_are_one_purchase_and_those_left_out_are_not_bought(place):
    facts = facts_of_run(place / "desk-A", load_prices(place / "p.toml"))
    named = [(need.refs, need.per_board, need.entries) for need in facts.parts]
    assert named == [("R1 R2 R7", 3, ("resistor-axial-quarter",)), ("U1", 1, ("pico-2",))]
    # 1.6 mm at 1.85 g/cm3 and twice 35 um at 8.96 g/cm3, a square decimetre
    assert facts.grams_per_dm2 == Decimal("29.6") + Decimal("6.272")


def test_the_command_tells_quantities_and_the_bill(place, capsys):
    assert cost(place, "--quantities", "1,9", "--need", "9") == 0
    out = capsys.readouterr().out
    assert "desk-A: 100.0 x 50.0 mm, economy-2l, boards from a shop" in out
    assert "what 9 boards cost, 10 ordered:" in out  # 10 at 1.50 are cheaper than 9 at 2
    assert "68.10" in out  # 15.00 + 27 x 0.10 + 9 x 5.60
    assert "INVENTED" not in out


def test_json_is_whole_and_exact(place, capsys):
    assert cost(place, "--need", "9", "--json") == 0
    streams = capsys.readouterr()
    found = json.loads(streams.out)
    assert [row["boards"] for row in found["quantities"]] == [1, 5, 9, 10, 50]
    nine = found["quantities"][2]
    assert (nine["saved_by_ordering_more"], nine["cheapest"]["total"]) == ("3.00", "68.10")
    lines = nine["cheapest"]["lines"]
    assert sum(Decimal(line["amount"]) for line in lines) == Decimal("68.10")
    assert [line["name"] for line in lines] == ["U1 Pico 2", "a shop", "R1 R2 R7 CFR-25JB-52-10K"]
    assert found["exit_code"] == 0
    assert "what 9 boards cost" in streams.err


def test_a_part_without_a_price_is_named_and_the_exit_code_is_1(place, capsys):
    (place / "p.toml").write_text(HEAD + PRICES.replace('"pico-2"', '"pico-9"'), "utf-8")
    assert cost(place, "--need", "5") == 1
    out = capsys.readouterr().out
    assert "error: no price for U1 Pico 2" in out
    assert "INCOMPLETE" in out
    assert "sale of" not in out
    assert cost(place, "--json") == 1
    found = json.loads(capsys.readouterr().out)
    assert (found["complete"], found["missing"], found["exit_code"]) == (False, ["U1 Pico 2"], 1)


def test_the_plot_is_svg_and_the_same_each_time(place):
    plots = [place / "a.svg", place / "b.svg"]
    for plot in plots:
        assert cost(place, "--need", "9", "--plot", str(plot)) == 0
    assert plots[0].read_bytes() == plots[1].read_bytes()
    root = ET.fromstring(plots[0].read_text("utf-8"))
    words = [element.text for element in root.iter("{http://www.w3.org/2000/svg}text")]
    assert "Cost of desk revision A" in words
    assert "What 9 boards cost, 10 ordered: 68.10 EUR" in words
    assert "50.40 (74.0 %)" in [" ".join(str(word).split()) for word in words]


def test_a_plot_of_one_board_and_of_boards_for_nothing_is_drawn(place):
    (place / "p.toml").write_text(HEAD + shop("each = [[1, 0]]", "most = 1\n"), "utf-8")
    plot = place / "a.svg"
    assert cost(place, "--quantities", "1", "--plot", str(plot)) == 1
    assert "INCOMPLETE" in plot.read_text("utf-8")


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (("--need", "0"), "--need: a number of boards is wanted; found 0"),
        (("--quantities", "1,x"), "--quantities: numbers of boards are wanted"),
        (("--need", "100001"), "allowed: 1 to 100000"),
        (("--plot", "a.png"), "--plot: the plot is an SVG file"),
        (("--plot", "no/such/a.svg"), "no such folder"),
    ],
)
def test_wrong_options_are_one_error(place, capsys, more, words):
    assert cost(place, *more) == 2
    streams = capsys.readouterr()
    assert words in streams.err
    assert len(streams.err.splitlines()) == 1
    assert streams.out == ""


def test_a_tampered_run_and_no_run_are_one_error(place, capsys):
    bom = place / "desk-A" / "assembly" / "bom.csv"
    bom.write_text(bom.read_text("utf-8").replace("R1 R2,2", "R1 R2,1"), "utf-8")
    assert cost(place, "--plot", str(place / "a.svg")) == 2
    err = capsys.readouterr().err
    assert "the run is not as it was recorded: assembly/bom.csv: is not the file that was recorded" in err
    assert len(err.splitlines()) == 1
    assert not (place / "a.svg").exists()
    bom.unlink()
    assert cost(place) == 2
    assert "assembly/bom.csv: is missing" in capsys.readouterr().err
    (place / "desk-A" / "summary.json").unlink()
    assert cost(place) == 2
    assert "no run: it holds no summary.json" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("key", "value"),
    [("width_mm", "wide"), ("width_mm", -1), ("width_mm", float("inf")), ("thickness_mm", None)],
)
def test_a_record_with_an_absurd_board_is_one_error(place, capsys, key, value):
    path = place / "desk-A" / "summary.json"
    record = json.loads(path.read_text("utf-8"))
    record["board"][key] = value
    path.write_text(json.dumps(record), "utf-8")
    assert cost(place) == 2
    err = capsys.readouterr().err
    assert "the record does not say what board it is" in err
    assert len(err.splitlines()) == 1


@pytest.mark.parametrize("count", ["", "-1", "0", "two", "1e3", "99999999"])
def test_a_parts_list_with_an_absurd_count_is_one_error(tmp_path, count):
    (tmp_path / "p.toml").write_text(HEAD + PRICES, "utf-8")
    run = write_run(tmp_path, (("R1", count, "", "", "", "X", "", "", ""),))
    with pytest.raises(InputError, match="no such count"):
        facts_of_run(run, load_prices(tmp_path / "p.toml"))


def test_a_short_row_of_the_parts_list_is_one_error(tmp_path):
    (tmp_path / "p.toml").write_text(HEAD + PRICES, "utf-8")
    with pytest.raises(InputError, match="a row of the list is short"):
        facts_of_run(write_run(tmp_path, (("R1", "1"),)), load_prices(tmp_path / "p.toml"))


@pytest.mark.parametrize(
    ("pattern", "number", "found"),
    [
        ("C*T", "C322T", True),
        ("C*T", "C322", False),
        ("A?", "A?", True),
        ("A?", "AB", False),
        ("[A]", "A", False),
    ],
)
def test_only_the_star_of_an_order_number_is_special(pattern, number, found):
    assert like(pattern, number) is found


def test_costs_for_a_comparison_are_words_by_group(place):
    rows = cost_of_run(place / "desk-A", load_prices(place / "p.toml"), 9)
    assert rows["boards for 9"] == "15.00 EUR"
    assert rows["parts for 9"] == "53.10 EUR"
    assert rows["total for 9"] == "68.10 EUR"
    assert rows["per board"] == "7.57 EUR"


def test_a_demo_run_is_priced_whole_by_the_demo_table_and_as_an_order(run_of, capsys):
    result = run_of("slide-remote")
    folder = result.folder
    assert main(["cost", str(folder), "--prices", str(DEMO), "--need", "18"]) == 0
    out = capsys.readouterr().out
    assert "INVENTED" in out
    assert "what 18 boards cost, 30 ordered:" in out
    prices = load_prices(DEMO)
    ordered = ordered_run(folder, Path(__file__).parents[2] / "designs" / "slide-remote")
    facts = order_facts(ordered, prices)
    found = estimate(facts, prices, (18,))
    assert order_total(facts, prices, 18) == found.quotes[0].best.total
    assert order_total(facts, prices, 10**6) is None
    assert found.facts == facts_of_run(folder, prices)
    assert str(found.quotes[0].best.total) in out


def test_order_and_compare_take_the_price_table(run_of, tmp_path, capsys):
    folder = str(run_of("slide-remote").folder)
    design = str(Path(__file__).parents[2] / "designs" / "slide-remote")
    given = ["--prices", str(DEMO), "--quantity", "18"]
    assert main(["order", folder, *given, "--out", str(tmp_path), "--design", design, "--json"]) == 0
    streams = capsys.readouterr()
    answer = json.loads(streams.out)
    assert answer["estimate"]["quantities"][0]["boards"] == 18
    assert f"estimate: {answer['estimate']['quantities'][0]['as_asked']['total']} EUR" in streams.err
    assert "30 boards ordered cost less" in streams.err
    package = Path(answer["folder"])
    assert not [file for file in package.rglob("*") if "cost" in file.name or "estimate" in file.name]
    assert "EUR" not in (package / "order.json").read_text("utf-8")
    assert main(["compare", folder, folder]) == 0
    assert "no price table was given" in capsys.readouterr().out
    assert main(["compare", folder, folder, *given]) == 0
    assert "no price table was given" not in capsys.readouterr().out


def test_order_and_compare_refuse_a_wrong_table_before_anything_is_written(run_of, tmp_path, capsys):
    folder = str(run_of("slide-remote").folder)
    (tmp_path / "p.toml").write_text(HEAD + shop("each = [[5, 2]]"), "utf-8")
    given = ["--prices", str(tmp_path / "p.toml"), "--quantity", "5"]
    for command in (
        ["order", folder, *given, "--out", str(tmp_path / "o")],
        ["compare", folder, folder, *given],
    ):
        assert main(command) == 2
        err = capsys.readouterr().err
        assert "no price for 1 to 4" in err
        assert len(err.splitlines()) == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["p.toml"]


def test_the_demo_table_prices_the_module_and_connector_of_every_demo():
    catalog, prices = load_catalog(), load_prices(DEMO)
    for path in sorted(DEMO.parent.glob("*/design.toml")):
        design = load_design(path)
        for entry in (catalog.entry(design.module), catalog.entry(design.connector)):
            assert any(part.entry == entry.id for part in prices.parts), (path.parent.name, entry.id)
