"""Builders of logger files and of a structure with a record, for the tests of the long record."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlmodel import Session

from app.records.people import Person
from app.records.sites import Structure
from app.services.loggers import register as loggers
from app.services.loggers import take_in as logger_imports
from app.services.loggers.results import ImportResult

NOW = datetime(2026, 11, 25, tzinfo=UTC)
OFFSET_S = 720 * 60  # the test sites stand at UTC+12:00
STEP_S = 900
JULY = int(datetime(2025, 6, 30, 12, tzinfo=UTC).timestamp())  # 1 July 2025 at the site
DAY = 86_400


def times(days: float, begin_s: int = JULY, step_s: int = STEP_S) -> NDArray[np.int64]:
    """Return the times of so many days, the midnight after the last one included."""
    return np.arange(begin_s, begin_s + int(days * DAY) + 1, step_s, dtype=np.int64)


def calm(t_s: NDArray[np.int64], head_m: float = 0.2, seed: int = 1) -> NDArray[np.float64]:
    """Return a quiet head series: a slow swing and half a millimetre of noise."""
    rng = np.random.default_rng(seed)
    swing = 0.02 * np.sin((t_s - t_s[0]) / (5.0 * DAY))
    return np.round(head_m + swing + rng.normal(0.0, 0.0005, t_s.size), 4)


def log_text(
    t_s: Sequence[int] | NDArray[np.int64],
    head_m: Sequence[float] | NDArray[np.float64],
    tail_m: NDArray[np.float64] | None = None,
    serial: str = "",
) -> bytes:
    """Return a logger file in site standard time."""
    lines = [f"Serial: {serial}"] if serial else []
    lines.append("time,head (m)" + ("" if tail_m is None else ",tailwater (m)"))
    stamps = np.datetime_as_string((np.asarray(t_s) + OFFSET_S).astype("M8[s]")).tolist()
    tails = [""] * len(stamps) if tail_m is None else [f",{x!r}" for x in tail_m.tolist()]
    for stamp, head, tail in zip(stamps, np.asarray(head_m).tolist(), tails, strict=True):
        lines.append(f"{stamp.replace('T', ' ')},{'' if head != head else repr(head)}{tail}")
    return ("\n".join(lines) + "\n").encode()


@dataclass
class Bench:
    """A structure, somebody of the office, and what they do to its record."""

    session: Session
    structure: Structure
    person: Person

    @property
    def id(self) -> int:
        assert self.structure.id is not None
        return self.structure.id

    @property
    def site_id(self) -> int:
        return self.structure.site_id

    def take(self, content: bytes, name: str = "log.csv", **options: Any) -> ImportResult:
        """Import a file; the first one brings its logger with it."""
        known = loggers.loggers(self.session, self.site_id)
        if not known:
            options.setdefault("new_logger", {"structure_id": self.id, "name": "Logger"})
        else:
            options.setdefault("logger_id", known[0].id)
        done = logger_imports.do_import(
            self.session, self.site_id, content, name, self.person, NOW, **options
        )
        self.session.commit()
        return done

    def layer(self, shape: str, begin_s: int, end_s: int, **fields: str) -> dict[str, str]:
        """Return the form of a correction between two instants."""
        return {
            "shape": shape,
            "from": local(begin_s),
            "to": local(end_s),
            "reason": "a test",
            **fields,
        }


def local(t_s: int) -> str:
    """Return an instant as site time."""
    moment = datetime.fromtimestamp(t_s, UTC) + timedelta(seconds=OFFSET_S)
    return moment.replace(tzinfo=None).isoformat()


def a_bench(
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    **site: Any,
) -> Bench:
    structure = a_site(**site)
    return Bench(session, structure, a_person(f"Office {structure.id}", "office"))
