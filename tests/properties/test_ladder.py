"""What must hold of the rates for any counts."""

from __future__ import annotations

import math
import warnings
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.measures.clustering import estimate_clustering
from analytics.measures.counts import Clustering, ClusterSums, Families, LadderCounts, Stages
from analytics.measures.intervals import clopper_pearson, wilson
from analytics.measures.ladder import MEASURES, UNACCOUNTED, rates
from analytics.values import Rate, Used

LOSSES = ("early_loss", "mid_loss", "late_loss", "shell_loss")
few = st.integers(0, 12)
correlation = st.floats(0, 1)


@st.composite
def clusterings(draw: st.DrawFn) -> Clustering:
    batch, tray = sorted((draw(correlation), draw(correlation)))
    return Clustering(tray, batch, draw(st.floats(0, 0.5)), draw(st.floats(0, 0.5)), draw(st.booleans()))


@st.composite
def counts(draw: st.DrawFn, clear: bool = True, unknown: bool = True) -> LadderCounts:
    opened = Stages(*(draw(few) if clear or i != 1 else 0 for i in range(6)))
    hatched, culled, cracked = draw(st.integers(0, 200)), draw(few), draw(few)
    hidden = draw(few) if unknown else 0
    told = opened.total()
    part = draw(st.floats(0, 1)) if told else 0.0
    shared = [part * hidden * eggs / told if told else 0.0 for eggs in opened.as_tuple()]
    followed = hatched + culled + int(told) + hidden
    trays, batches = sorted((draw(st.integers(1, 8)), draw(st.integers(1, 8))), reverse=True)
    return LadderCounts(
        used=Used(trays, batches, 0),
        eggs_set=followed + cracked,
        cracked=cracked,
        hatched=hatched,
        culled=culled,
        opened=opened,
        unknown=hidden,
        shared=Stages(*shared),
        unshared=hidden - math.fsum(shared),
        opened_squares=told * (1 + math.fsum(shared) / told) ** 2 if told else 0.0,
        tray_squares=followed**2 / trays,
        batch_squares=followed**2 / batches,
    )


def _rates(found: LadderCounts, clustering: Clustering | None = None) -> dict[str, Rate]:
    known = {} if clustering is None else dict.fromkeys(MEASURES, clustering)
    return rates(Families(found, found, found, found, found), known)


@given(counts(), clusterings())
def test_every_rate_is_in_order(found: LadderCounts, clustering: Clustering) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        all_rates = _rates(found, clustering)
    for rate in all_rates.values():
        assert (rate.value is None) == (rate.count is None) == (rate.eggs is None)
        assert rate.value is not None or rate.why
        if rate.measure == UNACCOUNTED or rate.possible is None:
            continue
        assert rate.interval
        assert 0 <= rate.interval.low <= rate.possible.low
        assert rate.possible.low <= rate.possible.high <= rate.interval.high <= 1
        if rate.value is not None:
            assert rate.possible.low - 1e-12 <= rate.value <= rate.possible.high + 1e-12
            assert rate.independent
            assert rate.independent.low - 1e-12 <= rate.value <= rate.independent.high + 1e-12


@given(counts(clear=False))
def test_identity_of_the_ladder(found: LadderCounts) -> None:
    all_rates = _rates(found)
    fertility, of_fertile = all_rates["fertility"].value, all_rates["hatch_of_fertile"].value
    if fertility and of_fertile is not None:
        followed = Fraction(found.followed, found.eggs_set)
        of_set = all_rates["hatch_of_set"].value
        assert fertility * of_fertile * float(followed) == pytest.approx(of_set, rel=1e-12, abs=1e-15)


@given(counts(clear=False))
def test_losses_and_hatch_add_up_to_the_fertile(found: LadderCounts) -> None:
    all_rates = _rates(found)
    shares = [all_rates[word].value for word in ("hatch_of_fertile", *LOSSES)]
    if None not in shares:
        assert math.fsum(share for share in shares if share is not None) == pytest.approx(1)


@given(counts(clear=False))
def test_losses_of_entering_multiply_to_the_hatch_of_fertile(found: LadderCounts) -> None:
    all_rates = _rates(found)
    passing = [all_rates[f"{word}_of_entering"].value for word in LOSSES]
    of_fertile = all_rates["hatch_of_fertile"].value
    if None not in passing and of_fertile is not None:
        product = math.prod(1 - loss for loss in passing if loss is not None)
        assert product == pytest.approx(of_fertile, rel=1e-9, abs=1e-12)


@given(counts(), st.data())
def test_no_way_to_settle_leaves_the_bounds(found: LadderCounts, data: st.DataObject) -> None:
    clear = data.draw(st.integers(0, int(found.opened.clear)))
    cuts = sorted(data.draw(st.lists(st.integers(0, found.unknown), min_size=4, max_size=4)))
    parts = [high - low for low, high in zip([0, *cuts], [*cuts, found.unknown], strict=True)]
    known = found.opened
    settled = Stages(
        infertile=known.infertile + clear + parts[0],
        early=known.early + known.clear - clear + parts[1],
        mid=known.mid + parts[2],
        late=known.late + parts[3],
        shell=known.shell + parts[4],
    )
    whole = replace(
        found,
        opened=settled,
        unknown=0,
        shared=Stages(),
        unshared=0.0,
        opened_squares=settled.total(),
    )
    left_open, all_settled = _rates(found), _rates(whole)
    for word, rate in all_settled.items():
        possible = left_open[word].possible
        if rate.value is not None:
            assert possible
            assert possible.low - 1e-12 <= rate.value <= possible.high + 1e-12


@given(counts(clear=False, unknown=False), clusterings())
def test_trays_and_batches_only_widen(found: LadderCounts, clustering: Clustering) -> None:
    for rate in _rates(found, clustering).values():
        if rate.independent and rate.interval and rate.possible:
            assert rate.possible.low == rate.possible.high == rate.value
            assert rate.interval.low <= rate.independent.low + 1e-12
            assert rate.interval.high >= rate.independent.high - 1e-12


@given(counts(clear=False), clusterings(), st.integers(2, 9))
def test_more_such_trays_narrow(found: LadderCounts, clustering: Clustering, times: int) -> None:
    def scaled(stages: Stages) -> Stages:
        return Stages(*(times * eggs for eggs in stages.as_tuple()))

    more = LadderCounts(
        used=found.used,
        eggs_set=times * found.eggs_set,
        cracked=times * found.cracked,
        hatched=times * found.hatched,
        culled=times * found.culled,
        opened=scaled(found.opened),
        unknown=times * found.unknown,
        shared=scaled(found.shared),
        unshared=times * found.unshared,
        opened_squares=times * found.opened_squares,
        tray_squares=times * found.tray_squares,
        batch_squares=times * found.batch_squares,
    )
    before, after = _rates(found, clustering), _rates(more, clustering)
    for word, rate in before.items():
        if rate.interval and rate.possible and after[word].interval:
            assert after[word].interval.low >= rate.interval.low - 1e-12
            assert after[word].interval.high <= rate.interval.high + 1e-12


@given(counts(clear=False, unknown=False), clusterings())
def test_one_infertile_egg_less_is_more_fertile(found: LadderCounts, clustering: Clustering) -> None:
    eggs = found.opened
    if eggs.infertile:
        better = replace(found, opened=replace(eggs, infertile=eggs.infertile - 1, late=eggs.late + 1))
        before, after = (_rates(each, clustering)["fertility"] for each in (found, better))
        assert before.interval
        assert after.interval
        assert before.value is not None
        assert after.value is not None
        assert after.value > before.value
        assert after.interval.low >= before.interval.low
        assert after.interval.high >= before.interval.high


@given(st.integers(1, 500).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))), st.floats(0.5, 0.999))
def test_intervals_of_a_share(pair: tuple[int, int], level: float) -> None:
    count, eggs = pair
    for method in (wilson, clopper_pearson):
        found, mirrored = method(count, eggs, level), method(eggs - count, eggs, level)
        assert 0 <= found.low <= count / eggs <= found.high <= 1
        assert found.low < found.high
        assert (1 - mirrored.high, 1 - mirrored.low) == pytest.approx((found.low, found.high), abs=1e-9)
        if count < eggs:
            more = method(count + 1, eggs, level)
            assert more.low >= found.low
            assert more.high >= found.high
        wider = method(count, eggs, (1 + level) / 2)
        assert wider.low <= found.low
        assert found.high <= wider.high


@given(
    st.integers(0, 500),
    st.integers(0, 30),
    st.integers(0, 60),
    st.lists(st.floats(0, 1e5), min_size=3, max_size=3),
    st.lists(st.floats(-1e5, 1e5), min_size=2, max_size=2),
)
def test_any_sums_give_a_sane_clustering(
    trays: int, pens: int, batches: int, positive: list[float], signed: list[float]
) -> None:
    dispersion, weight, shared = positive
    sums = ClusterSums(
        trays=max(trays, pens),
        pens=pens,
        batches=batches,
        dispersion=dispersion,
        tray_weight=weight,
        shared_pens=shared,
        cross=signed[0],
        cross_weight=signed[1],
    )
    found = estimate_clustering(sums)
    assert 0 <= found.rho_batch <= found.rho_tray <= 1
    assert math.isfinite(found.spread_tray)
    assert math.isfinite(found.spread_batch)
