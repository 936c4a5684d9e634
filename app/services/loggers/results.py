"""What looking at a logger file and taking it in answer."""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from app.errors import BadInput
from app.services.loggers.asking.questions import Answered
from app.services.loggers.overlap import Conflict
from app.services.loggers.reader.guesses import Guess
from app.services.loggers.reader.left_out import Problem
from app.services.loggers.reader.result import PreviewRow
from app.services.loggers.reader.sources import Candidate
from app.services.loggers.register import LoggerLine


@dataclass(frozen=True, kw_only=True)
class ImportPreview:
    """What a file holds and what taking it in would do; nothing is stored."""

    sha256: str
    sentence: str
    guesses: tuple[Guess, ...]
    questions: tuple[Guess, ...]
    problems: tuple[Problem, ...]
    problem_count: int
    first: tuple[PreviewRow, ...]
    last: tuple[PreviewRow, ...]
    rows: int
    from_at: datetime
    to_at: datetime
    step_s: int | None
    gaps: tuple[tuple[int, int], ...]
    missing: int
    serial: str | None
    logger: LoggerLine | None
    logger_candidates: list[LoggerLine]
    suggested_reads: str
    new: int
    already_same: int
    conflicts: list[Conflict]
    conflict_count: int
    already_held: bool
    held_by: str
    warnings: list[str]
    blocked: BadInput | None
    choices: dict[str, Any]
    candidates: tuple[Candidate, ...]
    answered: list[Answered]
    remembered: dict[str, Any]
    how_known: str


@dataclass(frozen=True, kw_only=True)
class ImportResult:
    """What taking a file in has done."""

    state: str  # imported | already_held
    import_id: int | None
    logger_id: int | None
    sentence: str
    rows: int = 0
    new: int = 0
    already_same: int = 0
    conflict_count: int = 0
    layer_id: int | None = None
    rebuilt_days: int = 0
    held_months: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
