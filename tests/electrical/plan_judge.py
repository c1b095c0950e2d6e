"""An independent judge of a plan: solves its circuit, and knows nothing of the plan's own proofs.

The parts and nets of a plan, the module's pins and what the test knows of the device are made into
a network of resistors and sources, which Kirchhoff's law solves with every output high. That is
done for each state of power there can be (both on, module alone, device alone) and with each
supply at both ends of its tolerance. What stands on a net is held against every input there.
"""

from dataclasses import dataclass
from itertools import product

import numpy as np

from boardgen.catalog.load import load_catalog
from boardgen.catalog.logic import Logic
from boardgen.circuit.assign_usable import usable_pins

CATALOG = load_catalog()
GROUND = "GND"
SLACK = 1e-6
STIFF = 1e-3  # ohm, of an output or a rail
BODY_V = 0.6  # of a FET's body diode


@dataclass(frozen=True)
class Fact:
    """What the test knows of the device's pin at one contact."""

    number: str
    signal: str
    volts: float
    own: bool  # fed by itself: may be on while the module is off
    rail: str  # the net its supply is on, "" where the board has none
    sends: bool
    takes: bool
    logic: Logic | None = None
    open_drain: bool = False
    pull_up: float | None = None
    high: float | None = None  # measured


@dataclass(frozen=True)
class State:
    module_on: bool
    device_on: bool
    outside: float  # 1 + deviation of rails from outside
    own: float  # 1 + deviation of the device's own supply
    boots: bool = False  # the module's pins do not drive yet


class Judge:
    """Complaints about one plan; empty where it is safe."""

    def __init__(self, bound, result, facts):
        self.bound, self.result, self.facts = bound, result, facts
        self.logic_v = bound.module.logic_volts
        self.contact_net = dict(result.contact_nets)
        module_nets = dict(result.module_nets)
        self.rails = {
            module_nets[p.number]: p.supply.volts
            for p in bound.module.pins
            if p.supply is not None and p.number in module_nets
        }
        self.own_rails = {f.rail: f.volts for f in facts if f.own and f.rail}
        self.complaints = []

    def rail_v(self, net, state):
        if net in self.rails:
            nominal = self.rails[net]
            near = abs(nominal - self.logic_v) < 0.2
            return nominal * (1.0 if near else state.outside) if state.module_on else None
        if net in self.own_rails:
            return self.own_rails[net] * state.own if state.device_on else None
        return None

    def device_v(self, fact, state):
        if fact.own:
            return fact.volts * state.own if state.device_on else None
        near = abs(fact.volts - self.logic_v) < 0.2
        return fact.volts * (1.0 if near else state.outside) if state.module_on else None

    def gates(self):
        for item in self.result.parts:
            pads, nets = dict(item.component.pins), dict(item.nets)
            for gate in item.component.gates:
                on = all(
                    nets.get(pads[pin]) == (nets[pads["supply"]] if to == "supply" else GROUND)
                    for pin, to in (*gate.ties, *item.component.ties)
                )
                yield item, nets[pads["supply"]], nets.get(pads[gate.input]), nets.get(pads[gate.output]), on

    def outputs(self, state):
        """Push-pull outputs that are on: (name, net, volts when high)."""
        for r in self.result.requests:
            if (
                r.drives and state.module_on and not state.boots and not r.function.startswith("i2c")
            ):  # a bus is only pulled low
                yield f"module {r.signal}", r.net, self.logic_v, r.reads
        for item, supply, _, out, on in self.gates():
            volts = self.rail_v(supply, state)
            if out is not None and on and volts is not None:
                yield item.ref, out, volts, False
        for f in self.facts:
            volts = self.device_v(f, state)
            net = self.contact_net[f.number]
            if f.sends and not f.open_drain and volts is not None and net:
                yield f"device {f.signal}", net, min(volts, f.high * 1.05) if f.high else volts, f.takes

    def resistors(self):
        for item in self.result.parts:
            if item.component.kind == "resistor":
                (_, a), (_, b) = item.nets
                scale = {"k": 1e3, "M": 1e6}.get(item.value[-1], 1.0)
                yield a, b, float(item.value.rstrip("kM")) * scale

    def fets(self):
        for item in self.result.parts:
            if item.component.id == "mosfet-bss138":
                nets, pads = dict(item.nets), dict(item.component.pins)
                yield nets[pads["gate"]], nets[pads["source"]], nets[pads["drain"]]

    def solve(self, state, clamp=None):
        """Volts on every net with all outputs high, and the current into *clamp*, (net, V), if one is given.

        A dead rail is a short: its loads empty it. The channel of a FET lifts its source to its gate
        at the most, its body diode carries from source to drain.
        """
        nets = sorted({n.name for n in self.result.nets} | set(self.rails) | set(self.own_rails))
        at = {net: i for i, net in enumerate(nets)}
        matrix, right = np.eye(len(nets)) * 1e-12, np.zeros(len(nets))

        def source(net, volts, ohms=STIFF):
            matrix[at[net], at[net]] += 1 / ohms
            right[at[net]] += volts / ohms

        def join(a, b, ohms, drop=0.0):
            for x, y, sign in ((a, b, 1), (b, a, -1)):
                matrix[at[x], at[x]] += 1 / ohms
                matrix[at[x], at[y]] -= 1 / ohms
                right[at[x]] += sign * drop / ohms

        source(GROUND, 0.0)
        for net in {*self.rails, *self.own_rails}:
            source(net, self.rail_v(net, state) or 0.0)
        for _, net, volts, _ in self.outputs(state):
            source(net, volts)
        for f in self.facts:
            volts = self.device_v(f, state)
            if f.pull_up and self.contact_net[f.number]:
                source(self.contact_net[f.number], volts or 0.0, f.pull_up)
        for a, b, ohms in self.resistors():
            join(a, b, ohms * (1.05 if GROUND in (a, b) else 0.95))
        if clamp is not None:
            source(*clamp)
        found = np.linalg.solve(matrix, right)
        body = [(src, drain) for _, src, drain in self.fets() if found[at[src]] > found[at[drain]] + BODY_V]
        for src, drain in body:
            join(src, drain, 1.0, BODY_V)
        if body:
            found = np.linalg.solve(matrix, right)
        volts = {net: float(found[i]) for net, i in at.items()}
        for gate, src, drain in self.fets():
            volts[src] = max(volts[src], min(volts[gate], volts[drain]))
        flow = 0.0 if clamp is None else (float(found[at[clamp[0]]]) - clamp[1]) / STIFF
        return volts, flow

    def over(self, who, net, limit, inject, volts, state):
        """Say that *net* stands over *limit*, unless the input's clamps are made for what then flows."""
        if volts[net] <= limit + SLACK:
            return
        _, flow = self.solve(state, (net, limit))
        if flow > inject * (1 + 1e-6):
            self.say(f"{who}: {volts[net]:.2f} V, {limit:.2f} V allowed, {flow * 1000:.3g} mA: {state}")

    def states(self):
        own = any(f.own for f in self.facts)
        power = [(True, True), *([(True, False), (False, True)] if own else [])]
        for (module_on, device_on), outside, mine in product(power, (0.95, 1.05), (0.95, 1.05)):
            yield State(module_on, device_on, outside, mine)
            if module_on:
                yield State(module_on, device_on, outside, mine, boots=True)

    def say(self, text):
        self.complaints.append(text)

    def judge(self, skip=frozenset()):
        """Return what is wrong; signals in *skip* were refused by the plan itself."""
        self.ties()
        self.floating(skip)
        for state in self.states():
            volts, _ = self.solve(state)
            self.fights(state)
            self.limits(state, volts, skip)
        return self.complaints

    def limits(self, state, volts, skip):
        for r in self.result.requests:
            driven = r.drives and not r.reads and state.module_on and not state.boots
            if r.signal in skip or driven or r.net not in volts:
                continue
            for pin in usable_pins(self.bound.module, r, self.bound.design.waivers):
                limit, inject = self.pin_limit(pin, state.module_on)
                self.over(f"{r.signal} on {pin.name}", r.net, limit, inject, volts, state)
        for item, supply, into, _, _ in self.gates():
            logic = CATALOG.logic_family(item.component.logic).levels
            on = self.rail_v(supply, state)
            limit = logic.idle_max_v if on is None else logic.most_v(on)
            if into is not None and not self.signals_on(into) & skip:
                self.over(item.ref, into, limit, logic.inject_a, volts, state)
        for f in self.facts:
            net = self.contact_net[f.number]
            if not f.takes or f.signal in skip or not net or f.logic is None:
                continue
            on = self.device_v(f, state)
            limit = f.logic.idle_max_v if on is None else f.logic.most_v(on)
            self.over(f"device {f.signal}", net, limit, f.logic.inject_a, volts, state)

    def signals_on(self, net):
        """Signals that end on *net*, at either side."""
        found = {r.signal for r in self.result.requests if r.net == net}
        return found | {s.contact.signal for s in self.result.signals if s.net == net}

    def pin_limit(self, pin, on):
        try:
            logic = self.bound.module.logic_of(pin)
            high, idle, inject = logic.most_v(self.logic_v), logic.idle_max_v, logic.inject_a
        except KeyError:
            high, idle, inject = self.logic_v + 0.3, 0.3, 0.0
        if pin.max_volts is not None:
            high = max(pin.max_volts, self.logic_v)
        return high if on else (idle if pin.idle_max_volts is None else pin.idle_max_volts), inject

    def fights(self, state):
        seen = {}
        for name, net, _, both in self.outputs(state):
            if both:
                continue  # two-way lines take turns by their protocol
            if net in seen:
                self.say(f"{name} and {seen[net]} both drive {net}")
            seen[net] = name

    def held(self, net, seen=frozenset()):
        """Whether something drives or pulls *net* once all is on, through resistors too."""
        state = State(True, True, 1.0, 1.0)
        if net == GROUND or self.rail_v(net, state) is not None:
            return True
        if any(on == net for _, on, _, _ in self.outputs(state)):
            return True
        if any(f.pull_up and self.contact_net[f.number] == net for f in self.facts):
            return True
        beyond = {b if a == net else a for a, b, _ in self.resistors() if net in (a, b)} - seen
        return any(self.held(other, seen | {net}) for other in sorted(beyond))

    def floating(self, skip):
        for r in self.result.requests:
            passive = not any(f.signal == r.signal for f in self.facts)
            if r.reads and not r.analog and r.signal not in skip and not r.pull and not self.held(r.net):
                self.say(f"nothing holds the module's input {r.signal}" + (" (a contact)" if passive else ""))
        for item, _, into, _, _ in self.gates():
            if into is None or not (self.held(into) or self.signals_on(into) & skip):
                self.say(f"nothing holds an input of {item.ref}")
        for f in self.facts:
            net = self.contact_net[f.number]
            if f.takes and f.signal not in skip and not self.held(net):
                self.say(f"nothing holds the device's input {f.signal}")

    def ties(self):
        for item in self.result.parts:
            if not item.component.gates:
                continue
            nets, pads = dict(item.nets), dict(item.component.pins)
            open_ = {name for name, pad in item.component.pins if pad not in nets}
            spare = {g.output for g in item.component.gates if pads[g.output] not in nets}
            if open_ - spare:
                self.say(f"{item.ref}: {sorted(open_ - spare)} hang in the air")
            if nets[pads["ground"]] != GROUND:
                self.say(f"{item.ref} has no ground")
            near = {n for p in self.result.parts if p.component.kind == "capacitor" for _, n in p.nets}
            if nets[pads["supply"]] not in near:
                self.say(f"{item.ref} has no capacitor")
            for gate in item.component.gates:
                if gate.output in spare and nets.get(pads[gate.input]) != GROUND:
                    self.say(f"{item.ref}: the spare input {gate.input} is not tied")
