"""The order of the stages; each is a pure function from frozen values to a frozen value."""

from boardgen.pipeline.check_cad import CadCheck, check_cad, is_cad_board
from boardgen.pipeline.check_run import RunCheck, check_run, is_run
from boardgen.pipeline.choose import choose_module, fitting_modules
from boardgen.pipeline.run import CheckResult, RunResult, check, generate
from boardgen.pipeline.stages import Built, build
from boardgen.pipeline.stopwatch import Progress, Stopwatch

__all__ = [
    "Built",
    "CadCheck",
    "CheckResult",
    "Progress",
    "RunCheck",
    "RunResult",
    "Stopwatch",
    "build",
    "check",
    "check_cad",
    "check_run",
    "choose_module",
    "fitting_modules",
    "generate",
    "is_cad_board",
    "is_run",
]
