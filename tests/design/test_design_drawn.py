"""What the tables of strokes, areas kept free, texts and holes refuse, each with key and line."""

from __future__ import annotations

import pytest

from boardgen.catalog.tomlfile import parse_toml
from boardgen.design.load import design_from
from boardgen.errors import InputErrors

HEAD = (
    'name = "x"\nmodule = "pico-2"\nconnector = "box-header-2x5"\n[[contacts]]\nnumber = 1\nkind = "ground"\n'
)


@pytest.mark.parametrize(
    ("table", "key", "message"),
    [
        (
            "[[strokes]]\nfilled = true\npoints_mm = [[0.0, 0.0], [1.0, 0.0]]\n",
            "strokes[1].points_mm",
            "these points enclose no area to fill",
        ),
        (
            '[[keepouts]]\nreason = "x"\npoints_mm = [[0.0, 0.0], [1.0, 1.0], [1.0, 0.0], [0.0, 1.0]]\n',
            "keepouts[1].points_mm",
            "these points enclose no area to keep free",
        ),
        (
            "[[legend]]\nx_mm = 1.0\ny_mm = 1.0\n",
            "legend[1]",
            "a table of the legend needs a text, or instead_of",
        ),
        (
            '[stays]\nrevision = "A"\nholes_mm = [[1.0, 1.0]]\nhole_diameters_mm = [3.0, 4.0]\n',
            "stays.hole_diameters_mm",
            "diameters and holes do not go together",
        ),
    ],
)
def test_a_table_that_cannot_be_meant_is_named(tmp_path, table, key, message):
    with pytest.raises(InputErrors) as caught:
        design_from(parse_toml((HEAD + table).encode(), "design.toml"), tmp_path)
    (error,) = caught.value.errors
    assert error.message == message
    assert error.key == key
    assert error.line is not None
