"""From gathered readings to a device: what each contact is for, the matrices, and what remains to settle."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from boardgen.bench.gather import Gathered
from boardgen.bench.grids import Grid, grid_of
from boardgen.bench.idle import Idle, read_idle
from boardgen.bench.keys import Keys, read_keys
from boardgen.bench.loadroles import guess_grounds, put_loads, put_pots
from boardgen.bench.loads import read_loads
from boardgen.bench.model import WORN_OHMS, Inference, Stated, contradiction, natural
from boardgen.bench.nextsteps import half_measured, idle_wires, listed, next_steps, unused_contacts
from boardgen.bench.roles import Role, Roles
from boardgen.bench.sides import Island, islands
from boardgen.bench.switches import common_of, put_switches
from boardgen.bench.words import Words, read_words
from boardgen.bench.worn import worn_findings
from boardgen.catalog.model import Connector
from boardgen.design.model import TO_COLUMN, TO_ROW, ContactKind, Matrix
from boardgen.errors import Severity

CONTACT_OHMS = 100.0  # a good contact and the meter's leads stay below; only more is worth writing down
DEVICE = "old input device, as measured"
_ORDER = {Severity.ERROR: 0, Severity.WARNING: 1, Severity.NOTE: 2}


def infer(gathered: Gathered, connector: Connector) -> Inference:
    """Return the device that the readings tell of; nothing that clashes is dropped without a finding."""
    sheet, stated = gathered.sheet, gathered.sheet.stated
    idle = read_idle(sheet.pairs)
    keys = read_keys(sheet.pairs, idle)
    words, clashes = read_words(sheet.wires, idle)
    findings = [*gathered.findings, *idle.findings, *keys.findings, *clashes]
    roles = Roles(words, idle, connector.shell)
    ends = {idle.node(end) for pair in sheet.pairs for end in pair.pair}
    nodes = sorted(ends | {idle.node(c) for c in words.lines}, key=natural)
    said = {node: words.said(idle.members(node)) for node in nodes}
    _put_stated(nodes, said, words, idle, roles, stated)
    sides = {node: said[node] for node in nodes if said[node] in ("row", "column")}
    sides |= {idle.node(contact): "row" for contact in stated.rows}

    grounds = set(roles.all_of(ContactKind.GROUND))
    switched = [c for c in keys.closures if set(c.pair) & grounds]
    parts, told = islands([c for c in keys.closures if not set(c.pair) & grounds])
    findings += [*told, *half_measured(parts)]
    stars = [part for part in parts if _is_star(part, sides)]
    grids = [grid_of(part, sides) for part in parts if part not in stars]
    matrices = _put_grids(grids, roles, keys)

    lines = {n for grid in grids for n in (*grid.rows, *grid.columns)}
    hubs = (
        grounds | lines | {part.star for part in stars if part.star} | set(roles.all_of(ContactKind.SUPPLY))
    )
    rest = read_loads(idle, frozenset(hubs), frozenset(node for node in nodes if said[node] == "load"))
    findings += rest.findings
    for part in stars:
        common, told = common_of(part, words, idle, rest, connector.shell)
        findings += told
        if not roles.is_kind(common, ContactKind.SUPPLY):
            why = f"the return of {len(part.closures)} key{'' if len(part.closures) == 1 else 's'}"
            sure = bool(part.star) or not any(f.rule == "measure-next" for f in told)
            roles.put(common, Role(ContactKind.GROUND, why, sure=sure), [c.lines[0] for c in part.closures])
        switched += part.closures
    findings += put_switches(switched, roles)
    findings += put_pots(rest, roles, stated.rail)
    findings += put_loads(rest, roles, said, words, idle, stated.rail)
    findings += guess_grounds(nodes, said, words, idle, roles)
    findings += [finding for grid in grids for finding in grid.findings]
    findings += worn_findings(keys.closures, {n: _called(n, roles) for n in nodes})
    findings += next_steps(sheet, connector, keys, grids, words)
    mentioned = {*words.lines, *(end for pair in sheet.pairs for end in pair.pair)}
    findings += idle_wires(sheet, words, [c for c in mentioned if roles.get(idle.node(c)) is None])
    findings += roles.findings
    numbers = _numbers(connector, mentioned)
    return Inference(
        stated.device or DEVICE,
        connector.id,
        roles.contacts(numbers, unused_contacts(sheet, words)),
        matrices,
        tuple(sorted(dict.fromkeys(findings), key=lambda f: (_ORDER[f.severity], f.rule == "taken"))),
    )


def _put_stated(
    nodes: Sequence[str], said: Mapping[str, str], words: Words, idle: Idle, roles: Roles, stated: Stated
) -> None:
    for node in nodes:
        if said[node] == "ground":
            roles.put(node, Role(ContactKind.GROUND, "stated to be ground"))
        elif said[node] == "supply":
            rail = words.rail(idle.members(node)) or stated.rail
            note = "" if rail else "rail not measured"
            role = Role(
                ContactKind.SUPPLY, "stated to be a supply", rail=rail or "5V", sure=bool(rail), note=note
            )
            roles.put(node, role)


def _is_star(part: Island, sides: Mapping[str, str]) -> bool:
    """Whether the keys of *part* are switches to one return: bare, and nobody called them a matrix."""
    single = len(part.left) == len(part.right) == 1
    return part.bare and bool(part.star or single) and not {*part.left, *part.right} & set(sides)


def _put_grids(grids: Sequence[Grid], roles: Roles, keys: Keys) -> tuple[Matrix, ...]:
    """Give matrix lines their names, in contact order; several matrices count on."""
    matrices: list[Matrix] = []
    rows_before = columns_before = 0
    for place, grid in enumerate(grids, 1):
        names: dict[str, str] = {}
        for kind, nodes, prefix, before in (
            (ContactKind.ROW, grid.rows, "ROW", rows_before),
            (ContactKind.COLUMN, grid.columns, "COL", columns_before),
        ):
            for number, node in enumerate(nodes, before + 1):
                names[node] = roles.name(node, f"{prefix}{number}")
                lines = [c.lines[0] for c in keys.closures if node in c.pair][:1]
                if not roles.put(node, Role(kind, "a matrix line", names[node]), lines):
                    names[node] = ""
        rows_before += len(grid.rows)
        columns_before += len(grid.columns)
        lost = [key for cross, key in grid.names.items() if not (names[cross[0]] and names[cross[1]])]
        if lost:
            lines = [c.lines[0] for c in keys.closures if set(c.pair) & {n for n in names if not names[n]}]
            message = (
                f"keys {listed(map(repr, lost))} have no place in a matrix: their contacts serve otherwise"
            )
            roles.findings.append(contradiction(message, *lines))
        if any(names[n] for n in grid.rows) and any(names[n] for n in grid.columns):
            matrices.append(_matrix(f"keys{place if place > 1 else ''}", grid, names))
    return tuple(matrices)


def _matrix(name: str, grid: Grid, names: Mapping[str, str]) -> Matrix:
    rows = [node for node in grid.rows if names[node]]
    columns = [node for node in grid.columns if names[node]]
    placed = tuple(
        (names[row], names[column], grid.names[row, column])
        for row in rows
        for column in columns
        if (row, column) in grid.names
    )
    ohms = grid.contact_ohms
    ways = {key: grid.ways[key] for _, _, key in placed if key in grid.ways}
    to_row = tuple(key for key, way in ways.items() if way == TO_ROW)
    to_column = tuple(key for key, way in ways.items() if way == TO_COLUMN)
    common = TO_ROW if len(to_row) >= len(to_column) else TO_COLUMN
    return Matrix(
        name,
        tuple(names[node] for node in rows),
        tuple(names[node] for node in columns),
        "rows" if ways and common == TO_ROW else "columns",
        common if ways else "none",
        placed,
        diode_keys=tuple(ways) if 0 < len(ways) < len(placed) else None,
        key_kind="worn" if ohms is not None and ohms > WORN_OHMS else "metal",
        contact_ohms=float(f"{ohms:.3g}") if ohms is not None and ohms > CONTACT_OHMS else None,
        diode_vf_v=grid.diode_vf_v if ways else None,
        cathode_to_row=to_row if common == TO_COLUMN else (),
        cathode_to_column=to_column if common == TO_ROW else (),
    )


def _called(node: str, roles: Roles) -> str:
    role = roles.get(node)
    return f"{role.signal} (contact {node})" if role is not None and role.signal else f"contact {node}"


def _numbers(connector: Connector, mentioned: set[str]) -> tuple[str, ...]:
    """Return every contact of the connector, and its shell where a reading or a wire names it."""
    shell = [number for number in connector.shell if number in mentioned]
    return (*sorted(connector.numbers(), key=natural), *shell)
