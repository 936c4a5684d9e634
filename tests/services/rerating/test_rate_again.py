"""One act brings readings and the long record to what is in force, and says before what it does.

References: plain numpy on the rows of the file itself, 1 ft and 2 ft Parshall Q = C h^n (Bos 1989,
ILRI Publ. 20, sec. 7.4; 2 ft row read in Utah State Univ. BIE 5300/6300 lecture 2, 1 ft row from
memory) and scipy.integrate.trapezoid for the volume of a day: none of it by the code under test.
"""

from collections.abc import Callable
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
import sqlalchemy as sa
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.integrate import trapezoid
from sqlmodel import Session, col, select

from app.errors import BadInput
from app.hydraulics.series.layers import Shape
from app.records.audit import AuditEntry
from app.records.flows import FlowValue
from app.records.people import Person
from app.records.sensors import (
    CorrectionLayer,
    DailyFlow,
    FoundFault,
    LayerWithdrawal,
    SeriesBlock,
)
from app.records.sites import GaugeZero, Rating, Structure
from app.services.days import daily, staleness
from app.services.days import rebuild as series_store
from app.services.days import totals as daily_totals
from app.services.readings import rate as rating
from app.services.record import export as record_exports
from app.services.rerating import act as rerate
from app.services.review import answers, approval
from app.services.review import queue as review_queue
from app.services.review.items import QueueItem
from app.services.series import raw as raw_series
from app.services.series import read as series_read
from app.services.sites import register as sites
from app.services.sites import structures
from app.services.sites.register import structures_of
from app.services.takes import capacity as race_capacity
from app.services.takes import limits as take_limits
from tests.builders.record_files import DAY, JULY, NOW, Bench, a_bench, calm, local, log_text, times
from tests.conftest import a_reading, send
from tests.services.loggers.test_take_in import derived

DAYS = 62  # July and August 2025 on the site's clock
ONE_FOOT, TWO_FEET = (0.6909, 1.522), (1.429, 1.55)


@pytest.fixture
def bench(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> Bench:
    """Give a structure with two months of a logger and not one head reading."""
    made = a_bench(session, a_site, a_person)
    t = times(DAYS)
    made.take(log_text(t, calm(t)))
    return made


def new_rating(bench: Bench, size: str = "2ft", valid_from: str = "2025-07-11T00:00") -> Rating:
    form = {"family": "parshall", "dim.size": size, "valid_from": valid_from, "reason": "measured"}
    row = structures.add_rating(bench.session, bench.id, form, bench.person.id)
    bench.session.commit()
    return row


def act(bench: Bench, reason: str = "the throat was measured") -> rerate.Rerate:
    look = rerate.look(bench.session, bench.site_id, NOW)
    done = rerate.rerate(
        bench.session, bench.site_id, look.token, reason, now=NOW, by_id=bench.person.id
    )
    bench.session.commit()
    return done


def approve(bench: Bench, month: str) -> None:
    for revision, step in enumerate(("reviewed", "approved")):
        approval.move(bench.session, bench.id, month, step, bench.person, NOW, revision=revision)
    bench.session.commit()


def by_hand(change_s: int | None) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return times, discharges and day volumes: C h^n on the file's own rows, and trapezoids."""
    t = times(DAYS)
    head = calm(t)
    flow = ONE_FOOT[0] * head ** ONE_FOOT[1]
    if change_s is not None:
        flow = np.where(t >= change_s, TWO_FEET[0] * head ** TWO_FEET[1], flow)
    volumes = [
        float(trapezoid(flow[k * 96 : k * 96 + 97], t[k * 96 : k * 96 + 97])) for k in range(DAYS)
    ]
    return t, flow, np.array(volumes)


def test_a_rating_reaches_the_record_where_nobody_reads_a_staff(bench: Bench) -> None:
    change = JULY + 10 * DAY
    _, old_flow, old = by_hand(None)
    t, new_flow, new = by_hand(change)
    new_rating(bench)
    found = rerate.look(bench.session, bench.site_id, NOW)
    assert (found.readings, found.rows) == (0, [])
    assert found.does_anything
    (record,) = found.records
    changed = t >= change
    assert record.points.changed == np.count_nonzero(changed)
    points_pct = 100 * (new_flow / old_flow - 1)[changed]
    assert record.points.mean_pct == pytest.approx(points_pct.mean(), rel=1e-6)
    assert record.points.largest_pct == pytest.approx(points_pct.max(), rel=1e-6)
    # 52 later days, the day whose last stretch ends at the change, and the last midnight's day
    assert record.days.changed == 52 + 1 + 1
    days_pct = 100 * (new / old - 1)[9:]
    assert record.days.mean_pct == pytest.approx(days_pct.mean(), rel=1e-6)
    assert record.days.largest_pct == pytest.approx(days_pct.max(), rel=1e-6)
    assert record.months_by_state() == {"draft": 3}
    july, august = record.months[:2]
    assert (july.before_m3, july.after_m3) == pytest.approx((old[:31].sum(), new[:31].sum()))
    assert (august.before_m3, august.after_m3) == pytest.approx((old[31:].sum(), new[31:].sum()))
    (year,) = record.years
    assert year.change_pct == pytest.approx(100 * (new.sum() / old.sum() - 1), rel=1e-9)

    stored = daily.arrays(bench.session, bench.id)
    assert stored.volume_m3[:DAYS] == pytest.approx(old)  # a look writes nothing
    done = act(bench)
    assert done.records == found.records  # and what was done is what was looked at
    stored = daily.arrays(bench.session, bench.id)
    assert stored.volume_m3[:DAYS] == pytest.approx(new)
    series = series_read.load(bench.session, bench.id)
    assert series["discharge_m3s"] == pytest.approx(new_flow)
    assert daily_totals.totals(bench.session, bench.id, by="year")[0]["volume_m3"] == pytest.approx(
        new.sum()
    )


def test_a_second_act_finds_nothing(bench: Bench) -> None:
    new_rating(bench)
    act(bench)
    before = derived(bench.session)
    found = rerate.look(bench.session, bench.site_id, NOW)
    assert not found.does_anything
    assert (found.records, found.stale.why) == ([], [])
    act(bench)
    assert derived(bench.session) == before
    lines = bench.session.exec(select(AuditEntry).where(AuditEntry.action == "rated again")).all()
    assert len(lines) == 1
    assert lines[0].after is not None
    assert lines[0].after["record of Flume"].startswith("3 months (3 draft), 54 days, ")


def from_nothing(bench: Bench) -> None:
    """Throw every derived row away and make all of it again."""
    for model in (SeriesBlock, DailyFlow, FoundFault, FlowValue):
        bench.session.execute(sa.delete(model))
    bench.session.commit()
    rating.rate_missing(bench.session)
    for structure in structures_of(bench.session, bench.site_id):
        series_store.rebuild(bench.session, structure.id or 0)
    bench.session.commit()


def everything(bench: Bench) -> list[object]:
    """Return flows, days, totals and the values of readings, all but ids and times of making."""
    out: list[object] = [derived(bench.session)]
    for by in ("month", "year"):
        out.append(daily_totals.totals(bench.session, bench.id, by=by))
    values = bench.session.exec(
        select(FlowValue).where(col(FlowValue.current)).order_by(col(FlowValue.entry_id))
    )
    out.append([v.model_dump(exclude={"id", "rated_at"}) for v in values])
    return out


def a_layer(bench: Bench, **fields: object) -> CorrectionLayer:
    row = CorrectionLayer(
        **{
            "structure_id": bench.id,
            "quantity": "head",
            "shape": "offset",
            "from_s": JULY + 3 * DAY,
            "to_s": JULY + 5 * DAY,
            "amount": 0.004,
            "amount_end": 0.004,
            "reason": "a test",
            "by_id": bench.person.id,
            "at": NOW,
            **fields,
        }
    )
    bench.session.add(row)
    bench.session.commit()
    return row


def a_zero(bench: Bench) -> None:
    form = {"crest_rl_m": "100", "zero_rl_m": "100.004", "valid_from": "2025-07-20T00:00"}
    structures.add_gauge_zero(bench.session, bench.id, form | {"reason": "re-levelled"}, None)


def put_out_of_force(bench: Bench) -> None:
    """Let the old rating hold again from the day a wrong one was entered for."""
    new_rating(bench)
    act(bench)
    new_rating(bench, "1ft")


def an_uncertainty(bench: Bench) -> None:
    form = structures.form_of(bench.structure) | {"head_uncertainty_mm": "5"}
    structures.change_structure(bench.session, bench.id, form, bench.person.id)


def a_pond(bench: Bench) -> None:
    form = structures.form_of(bench.structure) | {"pond_area_m2": "40"}
    structures.change_structure(bench.session, bench.id, form, bench.person.id)


def an_offset(bench: Bench, offset: str = "+11:30") -> None:
    form = sites.form_of(sites.get_site(bench.session, bench.site_id)) | {"utc_offset": offset}
    sites.change_site(bench.session, bench.site_id, form, bench.person.id)


def a_withdrawal(bench: Bench) -> None:
    row = a_layer(bench)
    act(bench)
    bench.session.add(
        LayerWithdrawal(layer_id=row.id, reason="a test", by_id=bench.person.id, at=NOW)
    )


def a_lost_file(bench: Bench) -> None:
    bench.take(log_text(times(3)[:-1] + 450, np.full(288, 0.2)), "between.csv")
    raw_series.delete_blocks(bench.session, 2)


SOURCES: dict[str, Callable[[Bench], object]] = {
    "another rating is in force": new_rating,
    "another gauge zero is in force": a_zero,
    "corrections were added or taken back": a_layer,
    "the uncertainty of a head was changed": an_uncertainty,
    "the area of the head pond was changed": a_pond,
    "the site's time has another offset from UTC": an_offset,
    "other logger files count": a_lost_file,
}


@pytest.mark.parametrize("why", SOURCES)
@pytest.mark.parametrize("readings", [True, False])
def test_every_source_makes_stale_and_one_act_is_a_rebuild_from_nothing(
    bench: Bench, why: str, readings: bool
) -> None:
    if readings:
        heads = {5: 0.2, 25: 0.21, 45: [0.2, 0.204, 0.207]}
        at = datetime(2025, 7, 1, tzinfo=UTC)
        send(
            bench.session,
            bench.person,
            *(
                a_reading(bench.structure, bench.person, h, at=at + timedelta(days=d))
                for d, h in heads.items()
            ),
        )
    assert not staleness.of_site(bench.session, bench.site_id)
    SOURCES[why](bench)
    bench.session.commit()
    found = staleness.of_site(bench.session, bench.site_id)
    assert why in found.why
    act(bench)
    assert not staleness.of_site(bench.session, bench.site_id)
    made = everything(bench)
    from_nothing(bench)
    assert everything(bench) == made


@pytest.mark.parametrize("change", [put_out_of_force, a_withdrawal])
def test_what_was_taken_back_gives_the_figures_from_before(
    bench: Bench, change: Callable[[Bench], object]
) -> None:
    before = daily.arrays(bench.session, bench.id)
    change(bench)
    bench.session.commit()
    assert staleness.of_site(bench.session, bench.site_id).act_helps
    act(bench)
    after = daily.arrays(bench.session, bench.id)
    assert np.array_equal(after.volume_m3, before.volume_m3, equal_nan=True)


def test_an_approved_month_is_left_and_listed_with_what_it_would_hold(bench: Bench) -> None:
    approve(bench, "2025-07")
    _, _, old = by_hand(None)
    _, _, new = by_hand(JULY + 10 * DAY)
    new_rating(bench)
    found = rerate.look(bench.session, bench.site_id, NOW)
    (held,) = found.held
    assert (held.month, held.structure) == ("2025-07", "Flume")
    assert (held.before_m3, held.after_m3) == pytest.approx((old[:31].sum(), new[:31].sum()))
    assert [x.month for x in found.records[0].months] == ["2025-08", "2025-09"]
    act(bench)
    volumes = daily.arrays(bench.session, bench.id).volume_m3
    assert volumes[:31] == pytest.approx(old[:31])
    assert volumes[31:DAYS] == pytest.approx(new[31:])
    left = staleness.of_site(bench.session, bench.site_id)
    assert not left.act_helps
    assert [(x.month, x.state) for x in left.held] == [("2025-07", "approved")]
    (item,) = [i for i in review_queue.queue(bench.session) if i.kind == "stale"]
    assert "approved" in item.title
    assert "open" in item.words.lower()
    approval.move(
        bench.session, bench.id, "2025-07", "draft", bench.person, NOW, reason="follow", revision=2
    )
    bench.session.commit()
    assert daily.arrays(bench.session, bench.id).volume_m3[:DAYS] == pytest.approx(new)
    assert not staleness.of_site(bench.session, bench.site_id)


def test_review_sends_what_is_not_approved_to_the_act(bench: Bench) -> None:
    new_rating(bench)
    (item,) = [i for i in review_queue.queue(bench.session) if i.kind == "stale"]
    assert item.link["month"] == "2025-07 to 2025-09"
    assert item.title.startswith("3 months")
    assert "approved" not in f"{item.title} {item.words}"
    assert item.words == "another rating is in force; 3 draft: rate the site again"
    assert item.link["act"] == f"/sites/{bench.site_id}/rate-again"
    act(bench)
    assert [i for i in review_queue.queue(bench.session) if i.kind == "stale"] == []


def test_an_answer_in_review_is_to_that_change_only(bench: Bench) -> None:
    approve(bench, "2025-07")
    new_rating(bench)
    act(bench)

    def stale(state: str = "open") -> list[QueueItem]:
        found = review_queue.queue(bench.session, state=state)
        return [i for i in found if i.kind == "stale"]

    (item,) = stale()
    answers.decide(
        bench.session,
        item.key,
        item.revision,
        answers.Act(action="accept", text="it stands", person=bench.person, now=NOW),
    )
    bench.session.commit()
    assert (stale(), len(stale("accepted"))) == ([], 1)
    new_rating(bench, "3ft")
    act(bench)
    assert len(stale()) == 1


def test_review_lists_readings_where_there_is_no_logger(
    session: Session, a_site: Callable[..., Structure], a_person: Callable[..., Person]
) -> None:
    bench = a_bench(session, a_site, a_person)
    at = datetime(2025, 8, 1, tzinfo=UTC)
    send(session, bench.person, a_reading(bench.structure, bench.person, 0.2, at=at))
    new_rating(bench)
    (item,) = review_queue.queue(session)
    assert item.kind == "stale"
    assert "1 reading" in item.title
    assert item.link["act"] == f"/sites/{bench.site_id}/rate-again"
    act(bench)
    assert review_queue.queue(session) == []


def test_answers_of_takes_that_turn_are_told(bench: Bench) -> None:
    _, _, old = by_hand(None)
    form = {"kind": "season", "amount": f"{1.4 * old.sum():.0f}", "valid_from": "2025-07-01"}
    take_limits.add_limit(bench.session, bench.id, form, bench.person, NOW)
    # what the race can carry bounds the time without record; without it nobody can tell
    most = {"kind": "flow", "amount": "0.05", "valid_from": "2025-01-01", "reason": "bank-full"}
    race_capacity.add_capacity(bench.session, bench.id, most, bench.person, NOW)
    bench.session.commit()
    new_rating(bench)
    (record,) = rerate.look(bench.session, bench.site_id, NOW).records
    (line,) = record.turning
    assert (line.answer_before, line.answer_after) == ("within", "over")
    assert line.before == pytest.approx(old.sum(), rel=1e-3)


def test_limits_and_the_water_year_are_worked_out_at_each_look(bench: Bench) -> None:
    form = {"kind": "season", "amount": "1", "valid_from": "2025-07-01"}
    take_limits.add_limit(bench.session, bench.id, form, bench.person, NOW)
    bench.session.commit()
    assert not staleness.of_site(bench.session, bench.site_id)


def test_the_month_before_the_first_of_a_month_changes_too(bench: Bench) -> None:
    """Its last stretch ends at the first reading of the new rating."""
    new_rating(bench, valid_from="2025-08-01T00:00")
    assert series_store.stale(bench.session, bench.id) == ["2025-07", "2025-08", "2025-09"]


def test_a_rating_of_later_days_leaves_earlier_months_alone(bench: Bench) -> None:
    new_rating(bench, valid_from="2025-08-02T00:00")
    assert series_store.stale(bench.session, bench.id) == ["2025-08", "2025-09"]
    (record,) = rerate.look(bench.session, bench.site_id, NOW).records
    assert [x.month for x in record.months] == ["2025-08", "2025-09"]


def test_the_same_rows_again_make_nothing_stale(bench: Bench) -> None:
    approve(bench, "2025-07")
    t = times(75)
    bench.take(log_text(t, np.concatenate([calm(times(DAYS)), calm(t)[-1248:]])), "more.csv")
    assert not staleness.of_site(bench.session, bench.site_id)


def test_a_second_logger_from_now_on_leaves_the_past_alone(bench: Bench) -> None:
    new = {"structure_id": bench.id, "name": "Second", "reads": "staff"}
    t = times(20, begin_s=JULY + 100 * DAY)
    bench.take(log_text(t, calm(t)), "second.csv", logger_id=None, new_logger=new)
    assert not staleness.of_site(bench.session, bench.site_id)


def test_a_site_of_several_structures_and_one_with_nothing(
    bench: Bench, a_site: Callable[..., Structure]
) -> None:
    other = Structure(site_id=bench.site_id, name="Drop", family="parshall", dims={"size": "1ft"})
    bench.session.add(other)
    bench.session.commit()
    empty = a_site("EMPTY")
    before = derived(bench.session)
    form = {"family": "parshall", "dim.size": "2ft", "valid_from": "2025-07-01T00:00"}
    for key in (other.id, empty.id):
        structures.add_rating(bench.session, key or 0, form | {"reason": "measured"}, None)
    bench.session.commit()
    for site_id in (bench.site_id, empty.site_id):
        assert not rerate.look(bench.session, site_id, NOW).does_anything
    assert derived(bench.session) == before
    new_rating(bench)
    (record,) = rerate.look(bench.session, bench.site_id, NOW).records
    assert record.name == "Flume"


@pytest.mark.parametrize("month", ["2025-07", "2025-08"])
@pytest.mark.parametrize("offset", ["+11:30", "+13:00"])
def test_a_changed_clock_and_an_approved_month_keep_every_reading_once(
    bench: Bench, month: str, offset: str
) -> None:
    approve(bench, month)
    an_offset(bench, offset)
    bench.session.commit()
    act(bench)
    found = series_read.load(bench.session, bench.id)
    assert np.array_equal(found["t_s"], times(DAYS))
    exported = list(record_exports.series_rows(bench.session, bench.id))
    assert [int(row["time_utc"].timestamp()) for row in exported] == times(DAYS).tolist()
    left = staleness.of_site(bench.session, bench.site_id)
    assert (left.act_helps, [x.month for x in left.held]) == (False, [month])


def test_what_was_added_meanwhile_must_be_looked_at(bench: Bench) -> None:
    new_rating(bench)
    look = rerate.look(bench.session, bench.site_id, NOW)
    new_rating(bench, "3ft")
    before = derived(bench.session)
    with pytest.raises(BadInput, match="changed since this was looked at"):
        rerate.rerate(bench.session, bench.site_id, look.token, "measured", now=NOW, by_id=None)
    bench.session.rollback()
    assert derived(bench.session) == before


def test_a_stopped_act_changes_nothing(bench: Bench) -> None:
    class Stop(Exception):  # noqa: N818 - it is no error
        pass

    def stop(done: int, total: int) -> None:
        assert 0 < done <= total
        raise Stop

    new_rating(bench)
    before = derived(bench.session)
    look = rerate.look(bench.session, bench.site_id, NOW)
    with pytest.raises(Stop):
        rerate.rerate(
            bench.session, bench.site_id, look.token, "measured", now=NOW, by_id=None, progress=stop
        )
    bench.session.rollback()
    assert derived(bench.session) == before


def test_a_value_from_before_sources_were_cited_is_not_taken_for_fine(bench: Bench) -> None:
    at = datetime(2025, 8, 1, tzinfo=UTC)
    send(bench.session, bench.person, a_reading(bench.structure, bench.person, 0.2, at=at))
    value = bench.session.exec(select(FlowValue)).one()
    bench.session.execute(sa.update(FlowValue).values(structure_head_uncertainty_m=None))
    bench.session.commit()
    assert staleness.of_site(bench.session, bench.site_id).reading_count == 1
    done = act(bench)
    assert (done.rows, len(done.confirmed)) == ([], 1)  # the figure stands, nothing new is stored
    again = bench.session.exec(select(FlowValue)).one()
    assert again.discharge_m3s == value.discharge_m3s
    assert not staleness.of_site(bench.session, bench.site_id)


CHANGES = st.lists(
    st.tuples(
        st.sampled_from(["rating", "zero", "layer", "offset", "uncertainty"]),
        st.integers(-5, DAYS + 5),
        st.integers(0, 23),
        st.sampled_from(["1ft", "2ft", "3ft"]),
    ),
    min_size=1,
    max_size=5,
)


@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@given(changes=CHANGES)
def test_whatever_was_changed_the_act_is_a_rebuild_from_nothing(
    bench: Bench, changes: list[tuple[str, int, int, str]]
) -> None:
    for kind, day, hour, size in changes:
        at_s = JULY + day * DAY + hour * 3600
        at = datetime.fromtimestamp(at_s, UTC)
        if kind == "rating":
            new_rating(bench, size, local(at_s))
        elif kind == "zero":
            bench.session.add(
                GaugeZero(
                    structure_id=bench.id,
                    valid_from=at,
                    crest_rl_m=100.0,
                    zero_rl_m=100.0 + 0.001 * hour,
                    reason="a test",
                )
            )
        elif kind == "layer":
            shape = str(Shape.OFFSET) if hour % 2 else str(Shape.CLOCK_SHIFT)
            amount = 0.001 * hour if hour % 2 else 60.0 * hour
            a_layer(
                bench,
                shape=shape,
                from_s=at_s,
                to_s=at_s + 2 * DAY,
                amount=amount,
                amount_end=amount,
            )
        elif kind == "offset":
            site = sites.get_site(bench.session, bench.site_id)
            site.utc_offset_min = 720 - 60 * (hour % 3)
        else:
            bench.structure.head_uncertainty_m = 0.003 + 0.001 * (hour % 4)
        bench.session.commit()
    act(bench)
    assert not staleness.of_site(bench.session, bench.site_id)
    made = everything(bench)
    from_nothing(bench)
    assert everything(bench) == made
