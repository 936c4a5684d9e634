"""Kill the process that stores, many times: what was acknowledged is there, once."""

import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import sqlalchemy as sa
from sqlmodel import Session, col, select

from app.records.entries import Entry
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sites import Structure
from app.services.readings import rate as rating
from tests.paths import ROOT

KILLS = 50


def wait_for_growth(path: Path) -> None:
    before = path.stat().st_size if path.exists() else 0
    deadline = time.monotonic() + 20
    while time.monotonic() < deadline:
        if path.exists() and path.stat().st_size > before:
            return
        time.sleep(0.002)
    raise TimeoutError("a sender stored nothing within 20 s")


def test_kill_loses_nothing_acknowledged(
    database_url: str,
    engine: sa.Engine,
    session: Session,
    a_site: Callable[..., Structure],
    a_person: Callable[..., Person],
    tmp_path: Path,
) -> None:
    a_site()
    a_person()
    acknowledged = tmp_path / "acknowledged"
    url = str(engine.url.render_as_string(hide_password=False))
    errors = (tmp_path / "errors").open("w")
    forker = subprocess.Popen(
        [sys.executable, "-m", "tests.services.sync.kill_child", url, str(acknowledged)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=errors,
        text=True,
        cwd=ROOT,
    )
    dice = random.Random(7)
    assert forker.stdin
    assert forker.stdout
    try:
        for _ in range(KILLS):
            forker.stdin.write("go\n")
            forker.stdin.flush()
            pid = int(forker.stdout.readline())
            wait_for_growth(acknowledged)  # a round proves nothing before its first receipt
            time.sleep(dice.uniform(0.0, 0.03))
            os.kill(pid, signal.SIGKILL)
    finally:
        forker.stdin.close()
        forker.wait(timeout=30)
        forker.stdout.close()
        errors.close()
    seen = acknowledged.read_text().split()
    tried = set((tmp_path / "acknowledged.tried").read_text().split())
    held = list(session.exec(select(Entry.id)))
    assert len(seen) >= KILLS
    assert len(seen) == len(set(seen))
    assert set(seen) <= set(held), "an acknowledged entry is lost"
    assert len(held) == len(set(held))
    assert set(held) <= tried
    # What a kill left stored but unrated is rated at the next start, once.
    while rating.rate_missing(session):
        pass
    doubled = session.execute(
        sa.select(col(FlowValue.entry_id))
        .where(col(FlowValue.current))
        .group_by(col(FlowValue.entry_id))
        .having(sa.func.count() > 1)
    ).all()
    assert doubled == []
    assert session.exec(select(sa.func.count()).select_from(FlowValue)).one() == len(held)
    if engine.dialect.name == "sqlite":
        assert session.execute(sa.text("PRAGMA integrity_check")).scalar_one() == "ok"
