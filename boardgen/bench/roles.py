"""Each node's part in the device: assigned once, and clashes named."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from boardgen.bench.idle import Idle
from boardgen.bench.model import PairLine, contradiction, natural
from boardgen.bench.words import Words, unique
from boardgen.design.model import Confidence, Contact, ContactKind
from boardgen.errors import Finding

NOTE_LENGTH = 120
_OF_SHELL = (ContactKind.GROUND, ContactKind.SHIELD)
_SHARED = (ContactKind.GROUND, ContactKind.SHIELD, ContactKind.SUPPLY, ContactKind.UNUSED)


@dataclass(frozen=True, slots=True)
class Role:
    """What a node is for; *why* says what it was seen to be, for a clash."""

    kind: ContactKind
    why: str
    signal: str = ""
    rail: str = ""
    current_a: float | None = None
    ohms: float | None = None
    sure: bool = True
    note: str = ""


class Roles:
    """The nodes' roles as they become known."""

    def __init__(self, words: Words, idle: Idle, shell: Sequence[str]) -> None:
        self.findings: list[Finding] = []
        self._words, self._idle, self._shell = words, idle, frozenset(shell)
        self._roles: dict[str, Role] = {}
        self._lines: dict[str, tuple[PairLine, ...]] = {}
        self._used = {words.name([c]).upper() for c in words.lines if words.name([c])}

    def get(self, node: str) -> Role | None:
        """Return the role of *node*, None where it has none yet."""
        return self._roles.get(node)

    def is_kind(self, node: str, *kinds: ContactKind) -> bool:
        """Whether *node* has a role of one of these *kinds*."""
        role = self._roles.get(node)
        return role is not None and role.kind in kinds

    def all_of(self, *kinds: ContactKind) -> tuple[str, ...]:
        """Return the nodes of these *kinds* in natural order."""
        return tuple(sorted((n for n, r in self._roles.items() if r.kind in kinds), key=natural))

    def name(self, node: str, otherwise: str) -> str:
        """Return the signal written beside a contact of *node*, else *otherwise*, made unlike all others."""
        said = self._words.name(self._idle.members(node))
        if said and any(role.signal.upper() == said.upper() for role in self._roles.values()):
            said = ""
        return said or unique(otherwise, self._used)

    def put(self, node: str, role: Role, lines: Sequence[PairLine] = ()) -> bool:
        """Give *node* its *role*, seen in *lines*; a clash with an earlier role becomes a finding."""
        known = self._roles.get(node)
        shell = [number for number in self._idle.members(node) if number in self._shell]
        if shell and role.kind not in _OF_SHELL:
            message = f"the shell, {shell[0]}, is {role.why}: a design knows it as ground or shield alone"
            self.findings.append(contradiction(message, *lines[:2]))
            return False
        if known is None:
            self._roles[node] = role
            self._lines[node] = tuple(lines)
            return True
        if known.kind is role.kind and (known.kind in _SHARED or known.why == role.why):
            return True
        message = f"contact {node} is {known.why}, and also {role.why}"
        self.findings.append(contradiction(message, *self._lines[node][:2], *tuple(lines)[:2]))
        return False

    def contacts(self, numbers: Sequence[str], unused: Mapping[str, tuple[bool, str]]) -> tuple[Contact, ...]:
        """Return a contact for each of *numbers*; *unused*: how sure, and a note, where no role is known."""
        return tuple(self._contact(number, unused) for number in numbers)

    def _contact(self, number: str, unused: Mapping[str, tuple[bool, str]]) -> Contact:
        node = self._idle.node(number)
        role = self._roles.get(node)
        words = self._words
        if role is None or (role.kind not in _SHARED and number != node):
            sure, note = unused.get(number, (False, ""))
            if role is not None:
                sure, note = True, f"joined to contact {node} inside the device"
            return Contact(
                number,
                "",
                ContactKind.SHIELD if number in self._shell else ContactKind.UNUSED,
                wire=words.wire(number),
                sure=Confidence.MEASURED if sure else Confidence.GUESSED,
                note=joined_note(words.note(number), note),
            )
        if role.kind is ContactKind.GROUND and words.said([number]) == "shield" and number != node:
            role = Role(ContactKind.SHIELD, role.why)
        joined = f"joined to contact {node} inside the device" if number != node else ""
        return Contact(
            number,
            role.signal,
            role.kind,
            wire=words.wire(number),
            sure=Confidence.MEASURED if role.sure else Confidence.GUESSED,
            rail=role.rail,
            current_a=role.current_a,
            ohms=role.ohms,
            note=joined_note(words.note(number), role.note, joined),
        )


def joined_note(*notes: str) -> str:
    """Return *notes* as one line that a design file takes."""
    text = "; ".join(note for note in notes if note)
    return text if len(text) <= NOTE_LENGTH else text[: NOTE_LENGTH - 3] + "..."
