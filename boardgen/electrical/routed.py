"""Lines settled anew with the capacitance of their routed copper, not with the one reckoned before layout."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from boardgen.electrical.model import LevelProof, SignalPlan
from boardgen.electrical.prove import BOARD_PF
from boardgen.errors import Finding, Severity

RULE = "settling"


def with_routed(plan: SignalPlan, board_pf: Mapping[str, float]) -> SignalPlan:
    """Return *plan* with every line that settles timed by *board_pf*, pF by net.

    R C ln(...) is in proportion to C, of which the board's part was taken to be
    BOARD_PF. What hangs on both sides of a part in line is counted as if it all
    hung at the reader, which is on the safe side. Behind a FET the two phases
    charge different capacitances, so there a time only grows with its C. A net
    without a figure keeps the estimate.
    """
    routed = routed_pf(plan, board_pf)
    if routed is None:
        return plan
    return replace(plan, proofs=tuple(_settled(proof, routed) for proof in plan.proofs))


def routed_pf(plan: SignalPlan, board_pf: Mapping[str, float]) -> float | None:
    """Return the routed pF of *plan*'s nets together, None where one is not known or nothing settles."""
    nets = dict.fromkeys(net for net in (plan.net, plan.module_net) if net)
    if not any(proof.settle_pf is not None for proof in plan.proofs) or not nets.keys() <= board_pf.keys():
        return None
    return sum(board_pf[net] for net in nets)


def _settled(proof: LevelProof, routed: float) -> LevelProof:
    if proof.settle_s is None or proof.settle_pf is None:
        return proof
    more = routed - BOARD_PF
    if proof.two_phase and more < 0:
        return proof
    pf = proof.settle_pf + more
    return replace(proof, settle_s=proof.settle_s * pf / proof.settle_pf, settle_pf=pf)


def settling_findings(plan: SignalPlan, board_pf: Mapping[str, float]) -> tuple[Finding, ...]:
    """Return what routed copper changes for *plan*, settled anew: too slow now, or beyond the estimate."""
    routed = routed_pf(plan, board_pf)
    if routed is None:
        return ()
    name, items = f"contact {plan.contact.number} ({plan.contact.signal})", (plan.contact.signal,)
    late = [p for p in plan.proofs if not p.settle_ok]
    if late:
        worst = max(late, key=lambda p: (p.settle_s or 0.0) - (p.settle_most_s or 0.0))
        took, left = (worst.settle_s or 0.0) * 1e6, (worst.settle_most_s or 0.0) * 1e6
        text = (
            f"{name} takes {took:.3g} us to settle with the {routed:.1f} pF of its copper, "
            f"{left:.3g} us are left"
        )
        return (Finding(RULE, Severity.ERROR, text, items=items),)
    if routed <= BOARD_PF:
        return ()
    slowest = max((p.settle_s for p in plan.proofs if p.settle_s is not None), default=0.0)
    text = (
        f"the copper of {name} has {routed:.1f} pF, {BOARD_PF:g} pF were reckoned with before layout: "
        f"settled anew, it takes {slowest * 1e6:.3g} us"
    )
    return (Finding(RULE, Severity.NOTE, text, items=items),)
