"""Student's t against a general statistics library."""

import numpy as np
import pytest
from scipy import stats

from app.errors import BadInput
from app.hydraulics.base.student import student_cdf, student_quantile, two_sided

DOF = [1, 2, 3, 4.5, 7, 10, 29, 100, 1000, 1e5]


@pytest.mark.parametrize("dof", DOF)
def test_quantile_vs_scipy(dof: float) -> None:
    for p in (1e-6, 0.025, 0.4, 0.5, 0.6, 0.9, 0.975, 0.995, 0.99999):
        assert student_quantile(p, dof) == pytest.approx(stats.t.ppf(p, dof), rel=1e-9, abs=1e-12)


@pytest.mark.parametrize("dof", DOF)
def test_cdf_vs_scipy(dof: float) -> None:
    for t in np.linspace(-30, 30, 41):
        assert student_cdf(t, dof) == pytest.approx(stats.t.cdf(t, dof), rel=1e-9, abs=1e-15)


def test_the_printed_points() -> None:
    # two-sided 5 % points as printed in statistical tables (from memory)
    for dof, printed in ((1, 12.706), (7, 2.365), (30, 2.042)):
        assert two_sided(dof) == pytest.approx(printed, abs=5e-4)


def test_impossible_questions_are_refused() -> None:
    with pytest.raises(BadInput, match="degrees of freedom"):
        student_cdf(1.0, 0)
    with pytest.raises(BadInput, match="between 0 and 1"):
        student_quantile(1.0, 5)
