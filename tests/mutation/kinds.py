"""All kinds of faults of the model; importing this registers them."""

from tests.mutation import copper_kinds, hole_kinds, joint_kinds, part_kinds
from tests.mutation.kind import KINDS

__all__ = ["KINDS", "copper_kinds", "hole_kinds", "joint_kinds", "part_kinds"]
