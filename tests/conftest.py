"""Shared by the tests: demo runs made once a session."""

from __future__ import annotations

import pytest
from demos import DESIGNS
from hypothesis import settings

# A first call may compile a kernel, so no deadline. The same examples every time, so that a run says
# something about the change and not about luck; `--hypothesis-profile=wander` looks for new ones.
settings.register_profile("boardgen", deadline=None, derandomize=True)
settings.register_profile("wander", deadline=None)
settings.load_profile("boardgen")


@pytest.fixture(scope="session")
def built():
    """Return a function that builds a demo in memory, once each."""
    from boardgen.catalog.load import load_catalog
    from boardgen.design.load import load_design
    from boardgen.pipeline import build, choose_module

    done = {}
    catalog = load_catalog()

    def make(name: str):
        if name not in done:
            done[name] = build(choose_module(load_design(DESIGNS / name), catalog), catalog)
        return done[name]

    return make


@pytest.fixture(scope="session")
def run_of(tmp_path_factory):
    """Return a function that generates a demo on disk, once each, and gives the run's result."""
    from boardgen.pipeline import generate

    done = {}

    def make(name: str):
        if name not in done:
            done[name] = generate(DESIGNS / name, tmp_path_factory.mktemp("runs"))
        return done[name]

    return make
