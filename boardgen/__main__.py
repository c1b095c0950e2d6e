"""``python -m boardgen`` is the same as ``boardgen``."""

from boardgen.cli.main import run

if __name__ == "__main__":
    run()
