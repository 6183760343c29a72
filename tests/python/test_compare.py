# SPDX-License-Identifier: GPL-3.0-or-later
"""The Python face of the comparison: calls, verdicts, pickles, refusals."""

import pickle

import numpy as np
import pytest

from sievelight import InputError
from sievelight.compare import compare_batches, equivalence_test, holm

NAMES = ["a1", "a2", "a3", "b1", "b2", "b3", "c1"]
BATCHES = ["old", "old", "old", "new", "new", "new", "single"]
VALUES = [8.00, 8.05, 8.10, 8.02, 8.08, 8.11, 9.4]


def compare(**change):
    options = {"names": NAMES, "batches": BATCHES, "values": VALUES, "reference": "old"} | change
    return compare_batches(**options)


def test_batches_and_pairs_in_the_order_of_their_samples():
    result = compare()
    assert [b.batch for b in result.batches] == ["old", "new", "single"]
    assert [p.batch for p in result.pairs] == ["new", "single"]
    assert (result.reference, result.margin_percent, result.quantity) == ("old", 5.0, "x50")
    old, new = result.batches[0], result.pairs[0]
    assert old.samples == 3
    assert old.mean.value == pytest.approx(np.exp(np.mean(np.log(VALUES[:3]))))
    assert new.verdict == "equivalent" and not new.difference_significant
    assert new.difference_percent_low < new.verdict_percent_low < new.verdict_percent_high < new.difference_percent_high
    assert "inside" in new.reason


def test_a_single_sample_is_undecided_and_says_why():
    single = compare().pairs[1]
    assert single.verdict == "undecided" and not single.difference_significant
    assert "single has one sample" in single.reason
    assert np.isnan(compare().batches[2].between_sample_sd)
    assert compare(u=[0.01] * 7, single_samples=True).pairs[1].verdict == "different"
    assert compare(scatter="pooled").pairs[1].verdict == "different"


def test_what_all_samples_share_cancels_in_differences_only():
    values = np.array(VALUES)
    shared = 0.03**2 * np.outer(values, values)
    bare, with_shared = compare(), compare(covariance=shared)
    assert with_shared.pairs[0].difference_percent_high == pytest.approx(bare.pairs[0].difference_percent_high)
    assert with_shared.batches[0].mean.u > 0.03 * 8 > 5 * bare.batches[0].mean.u
    assert with_shared.batches[0].shared_u == pytest.approx(0.03 * with_shared.batches[0].mean.value)


def test_u_is_a_covariance_without_sharing():
    u = np.full(7, 0.02)
    a, b = compare(u=u), compare(covariance=np.diag(u**2))
    assert a.pairs[0].p_equivalent == b.pairs[0].p_equivalent
    with pytest.raises(InputError, match="both a covariance and u"):
        compare(u=u, covariance=np.diag(u**2))


def test_results_survive_a_pickle_and_show_themselves():
    result = compare(u=[0.02] * 7)
    again = pickle.loads(pickle.dumps(result))
    assert repr(again) == repr(result)
    assert "old" in repr(result) and "equivalent" in repr(result)
    for name in ("difference_percent", "p_zero_holm", "verdict_level", "reason", "verdict", "shared_share"):
        assert str(getattr(again.pairs[0], name)) == str(getattr(result.pairs[0], name))
    for name in ("samples", "between_sample_sd", "shared_u", "includes_scatter", "degrees_of_freedom"):
        assert getattr(again.batches[0], name) == getattr(result.batches[0], name)
    assert tuple(again.batches[0].mean.band95) == tuple(result.batches[0].mean.band95)
    test = equivalence_test([8.0, 8.1, 8.2], [8.1, 8.2, 8.4], limits=(-1, 1))
    assert pickle.loads(pickle.dumps(test)).p_equivalent == test.p_equivalent
    assert repr(pickle.loads(pickle.dumps(test))) == repr(test)


def test_refusals_name_the_sample_or_the_batch():
    with pytest.raises(InputError, match="reference batch 'elsewhere'") as caught:
        compare(reference="elsewhere")
    assert "old, new, single" in caught.value.mend
    with pytest.raises(InputError, match="sample 'b2' is nan"):
        compare(values=[8, 8, 8, 8, float("nan"), 8, 8])
    with pytest.raises(InputError, match="margin is 0 %"):
        compare(margin_percent=0)
    with pytest.raises(InputError, match="do not belong together"):
        compare(names=NAMES[:-1])
    with pytest.raises(InputError, match="not a way to treat the scatter"):
        compare(scatter="some")
    with pytest.raises(InputError, match="not positive semidefinite"):
        compare(covariance=0.01 * (2 * np.ones((7, 7)) - np.eye(7)))
    with pytest.raises(InputError, match="not a kind of test"):
        equivalence_test([1, 2], [1, 2], limits=(-1, 1), kind="other")


def test_holm_takes_a_list():
    adjusted, claimed = holm([0.01, 0.04, 0.03])
    assert adjusted == pytest.approx([0.03, 0.06, 0.06])
    assert claimed == [True, False, False]
