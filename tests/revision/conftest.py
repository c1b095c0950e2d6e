import pytest
import revision_kit as kit


@pytest.fixture(scope="session")
def demo(tmp_path_factory):
    """Runs A and B of the demo's history, and B's design file; not to be written to."""
    return kit.history(tmp_path_factory.mktemp("history"))
