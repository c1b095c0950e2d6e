"""What an entry guarantees electrically, in words: levels, pulls, supplies, and the ways through a chip."""

from __future__ import annotations

from boardgen.catalog.logic import Logic
from boardgen.catalog.model import Component, Module, ModulePin
from boardgen.catalog.power import Onboard, Power, RailPath, Regulator


def level_lines(levels: Logic) -> list[str]:
    """Return the levels at each supply, then what the inputs take and draw."""
    lines = [f"supply: {levels.supply_min_v:g} V to {levels.supply_max_v:g} V; {levels.output}"]
    for point in levels.points:
        high = ", ".join(f"{volts:g} V at {amps * 1e3:g} mA" for amps, volts in point.high)
        low = ", ".join(f"{volts:g} V at {amps * 1e3:g} mA" for amps, volts in point.low)
        lines.append(
            f"at {point.supply_v:g} V: reads high from {point.vih_v:g} V, low up to {point.vil_v:g} V; "
            f"drives high {high or 'not at all'}, low {low or 'not at all'}"
        )
    over = "" if levels.over_supply_v is None else f", {levels.over_supply_v:g} V over the supply"
    lines.append(f"inputs take {levels.input_max_v:g} V{over}; with the supply off {levels.idle_max_v:g} V")
    lines.append(
        f"an input takes {levels.high_a * 1e6:g} uA high, gives {levels.low_a * 1e6:g} uA low, "
        f"{levels.input_pf:g} pF"
    )
    return [*lines, levels.note] if levels.note else lines


def module_electrics(module: Module) -> list[str]:
    """Return the levels of a module's pins by class, its pulls, currents, ADC, supplies and known faults."""
    lines: list[str] = []
    for name, levels in module.logics:
        lines.append(f"levels of the {name} pins" if name else "levels of the pins")
        lines += [f"  {line}" for line in level_lines(levels)]
    for way, ohms in (("up", module.pull_up_ohms), ("down", module.pull_down_ohms)):
        if ohms is not None:
            least, typical, most = (f"{value / 1e3:g}" for value in ohms)
            lines.append(f"internal pull-{way}: {least} kohm to {most} kohm, typically {typical}")
    if module.drive_a is not None:
        total = "" if module.io_total_a is None else f", {module.io_total_a * 1e3:g} mA in all"
        lines.append(f"a pin should give or take at most {module.drive_a * 1e3:g} mA{total}")
    if module.adc is not None:
        adc = module.adc
        bits = [f"ADC: {adc.bits} bits, reference {adc.reference_v:g} V"]
        if adc.input_ohms is not None:
            bits.append(f"input {adc.input_ohms / 1e3:g} kohm at least")
        if adc.source_max_ohms is not None:
            bits.append(f"source {adc.source_max_ohms / 1e3:g} kohm at most")
        lines.append(", ".join(bits) + (f"; {adc.note}" if adc.note else ""))
    lines += _power(module.power) if module.power is not None else []
    return lines + [f"{fault.id}: {fault.text}; {fault.remedy}" for fault in module.errata]


def _power(power: Power) -> list[str]:
    radio = "" if power.radio_draw_a is None else f", {power.radio_draw_a * 1e3:g} mA at the radio's peaks"
    note = f"; {power.note}" if power.note else ""
    lines = [f"takes {power.draw_a * 1e3:g} mA itself{radio}{note}"]
    lines += [_path(path) for path in power.paths]
    return lines + [_regulator(regulator) for regulator in power.regulators]


def _path(path: RailPath) -> str:
    bits = [f"{path.source} to {path.target}: {path.by}"]
    if path.drop_v:
        at = "" if path.drop_at_a is None else f" at {path.drop_at_a:g} A"
        bits.append(f"loses {path.drop_v:g} V{at}")
    if path.hold_a is not None:
        bits.append(f"holds {path.hold_a:g} A")
    return ", ".join(bits) + (f"; {path.note}" if path.note else "")


def _regulator(regulator: Regulator) -> str:
    bits = [
        f"{regulator.input_rail} to {regulator.output_rail}: {regulator.kind} regulator {regulator.part}",
        f"{regulator.input_min_v:g} V to {regulator.input_max_v:g} V in, {regulator.output_v:g} V out",
    ]
    if regulator.max_a is not None:
        bits.append(f"{regulator.max_a:g} A at most")
    if regulator.dropout_v is not None:
        at = "" if regulator.dropout_at_a is None else f" at {regulator.dropout_at_a:g} A"
        least = "" if regulator.dropout_least_v is None else f", {regulator.dropout_least_v:g} V without load"
        bits.append(f"dropout {regulator.dropout_v:g} V{at}{least}")
    if regulator.theta_ja_k_per_w is not None:
        bits.append(f"{regulator.theta_ja_k_per_w:g} K/W")
    if regulator.efficiency is not None:
        bits.append(f"efficiency {regulator.efficiency:.0%}")
    return ", ".join(bits)


def pin_electrics(pin: ModulePin) -> list[str]:
    """Return remarks on the strap level and on the parts that hang on *pin*."""
    whom = " for the loader" if pin.strap_for == "load" else ""
    bits = [f"must be {pin.strap_needs} at reset{whom}"] if pin.strap_needs else []
    return bits + [_onboard(part) for part in pin.onboard]


def _onboard(part: Onboard) -> str:
    if part.kind == "led":
        return f"LED to {part.to} through {part.ohms:g} ohm"
    if part.kind == "driver":
        return f"driven through {part.ohms:g} ohm from {part.volts:g} V"
    rail = f" to {part.volts:g} V" if part.kind == "pull-up" else ""
    return f"{part.kind} {part.ohms:g} ohm{rail} on the module"


def chip_electrics(part: Component) -> list[str]:
    """Return the ways through a chip, the pins it ties, and its logic family."""
    if not part.gates:
        return []
    lines = [f"logic: {part.logic}"]
    for gate in part.gates:
        ties = "".join(f", {pin} to {rail}" for pin, rail in gate.ties)
        lines.append(f"gate: {gate.input} to {gate.output}{ties}")
    return lines + [f"tie: {pin} to {rail}" for pin, rail in part.ties]
