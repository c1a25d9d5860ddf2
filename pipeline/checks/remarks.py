"""What check has to say: single remarks, and the report of all."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal

from pipeline.checks.contract.verdicts import Verdict
from pipeline.errors import SetledgerError

Severity = Literal["wrong", "open", "note"]
_SEVERITIES = ("wrong", "open", "note")
_TOPICS = (
    "store", "workspace", "sources", "versions", "contract", "days", "loads", "clients", "files",
    "names",
)  # fmt: skip


@dataclass(frozen=True)
class Remark:
    """One thing that check has to say."""

    severity: Severity
    """wrong: must be mended; open: waits for a person's word; note: good to know."""
    topic: str
    """What it is about: workspace, store, sources, versions, clients, names, files, days, loads
    or contract."""
    where: str
    """File, with line where there is one, or table."""
    text: str
    """What is the matter and how to mend it, in sentences; `where` is not repeated in it."""
    detail: dict[str, Any] = field(default_factory=dict)
    """The same in figures, for --json."""
    group: str = ""
    """What is said once of all alike, where there are several: {} stands for how many."""
    item: str = ""
    """What is then said of this one."""

    @property
    def rank(self) -> tuple[int, int]:
        """The smaller, the worse."""
        return _SEVERITIES.index(self.severity), _TOPICS.index(self.topic)

    @classmethod
    def of(cls, error: SetledgerError, topic: str) -> Remark:
        """What is wrong by an error, whose message starts with the place."""
        where, _, text = str(error).partition(": ")
        return cls("wrong", topic, where, text or str(error))


@dataclass(frozen=True)
class Report:
    """All that check found."""

    remarks: tuple[Remark, ...]
    verdicts: tuple[Verdict, ...]
    sets: int
    """Sets that count in the ledger."""

    @property
    def exit_code(self) -> int:
        """0 if nothing needs a person."""
        return 1 if any(each.severity != "note" for each in self.remarks) else 0
