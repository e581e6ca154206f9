"""Identification against published values and general-purpose reference libraries."""

import math
from itertools import pairwise

import numpy as np
import pytest
from scipy import integrate, stats
from sklearn import datasets, metrics, model_selection, naive_bayes

from stash.fit.catalogue import Catalogue
from stash.fit.facts import Design, Kind, Measure
from stash.fit.intervals import Interval
from stash.key.belief import NONE, Belief, Hypotheses, believe, hypotheses_of
from stash.key.densities import Bump, Side, log_normal, log_sum, log_worn
from stash.key.identify import identify
from stash.key.information import expected_bits
from stash.key.options import Options
from stash.key.questions import NumberQuestion, WordQuestion, questions_of

BARE = Options(none_prior=0.0, slip=0.0)
GRAIN = 10**12
"""Sizes in units this fine lose nothing to being whole millionths."""


def catalogue_of_classes(means, spreads):
    """Each class a design, each feature a measure without wear, each spread a tolerance and no instrument error."""
    designs = []
    for name, (mean, spread) in enumerate(zip(means, spreads, strict=True)):
        values = {}
        for at, (middle, sigma) in enumerate(zip(mean, spread, strict=True)):
            half = sigma * math.sqrt(3)
            values[f"f{at}"] = Interval(round((middle - half) * GRAIN), round((middle + half) * GRAIN))
        designs.append(Design(str(name), "flower", values=values))
    measures = tuple(Measure("flower", f"f{at}", f"f{at}", "number", "", (), 0, "none") for at in range(len(means[0])))
    return Catalogue(kinds=(Kind("flower", "flower"),), measures=measures, designs=tuple(designs))


@pytest.mark.parametrize(("load", "accuracy"), [(datasets.load_iris, 0.9600), (datasets.load_wine, 0.9719)])
def test_without_wear_it_is_gaussian_naive_bayes(load, accuracy):
    """Source: scikit-learn ``GaussianNB`` on iris and wine, 5-fold stratified cross-validation, shuffled, seed 0."""
    data, target = load(return_X_y=True)
    folds = model_selection.StratifiedKFold(5, shuffle=True, random_state=0)
    right, worst = 0, 0.0
    for train, test in folds.split(data, target):
        theirs = naive_bayes.GaussianNB().fit(data[train], target[train])
        ours = catalogue_of_classes(theirs.theta_, np.sqrt(theirs.var_))
        options = Options(none_prior=0.0, slip=0.0, weights=dict(zip("012", theirs.class_prior_, strict=True)))
        questions = questions_of(ours, "flower", options)
        hypotheses = hypotheses_of("012", options)
        for row, truth in zip(data[test], target[test], strict=True):
            answers = {f"f{at}": value * GRAIN / 1e6 for at, value in enumerate(row)}
            shares = believe(hypotheses, questions, answers).probabilities[:-1]
            worst = max(worst, float(np.abs(np.array(shares) - theirs.predict_proba([row])[0]).max()))
            right += int(np.argmax(shares) == truth)
    assert round(right / len(target), 4) == accuracy
    assert worst < 1e-9


def test_the_whole_of_identify_agrees_with_gaussian_naive_bayes_too():
    data, target = datasets.load_iris(return_X_y=True)
    theirs = naive_bayes.GaussianNB().fit(data, target)
    means, spreads = np.round(theirs.theta_, 3), np.round(np.sqrt(theirs.var_), 3)
    designs = tuple(
        Design(str(at), "flower", values={f"f{k}": _whole(m, s) for k, (m, s) in enumerate(zip(ms, ss, strict=True))})
        for at, (ms, ss) in enumerate(zip(means, spreads, strict=True))
    )
    measures = tuple(Measure("flower", f"f{k}", f"f{k}", "number", "cm", (), 0, "none") for k in range(4))
    catalogue = Catalogue(kinds=(Kind("flower", "flower"),), measures=measures, designs=designs)
    for row in data[::10]:
        found = identify(catalogue, "flower", {f"f{k}": float(value) for k, value in enumerate(row)}, options=BARE)
        logs = stats.norm.logpdf(row, means, spreads).sum(axis=1)
        expected = np.exp(logs - logs.max()) / np.exp(logs - logs.max()).sum()
        assert [dict(found.ranking)[str(k)] for k in range(3)] == pytest.approx(list(expected), abs=1e-4)


def _whole(mean, sigma):
    half = sigma * math.sqrt(3)
    return Interval(round((mean - half) * 1e6), round((mean + half) * 1e6))


def words_question(words):
    choices = tuple(sorted(set(words)))
    shape_of = {str(at): choices.index(word) + 1 for at, word in enumerate(words)}
    return WordQuestion(Measure("thing", "word", "word", "choice"), shape_of, choices, choices, 1e-15)


def information_between(words, classes):
    """Mutual information of a word with a class: what a sure answer tells of the rows, less what it tells inside."""

    def of(members):
        names = tuple(str(at) for at in members)
        even = tuple([1 / len(names)] * len(names))
        belief = Belief(Hypotheses((*names, NONE), (*even, 0.0)), (*even, 0.0), (None,) * (len(names) + 1))
        return expected_bits(belief, words_question(words))

    groups = [[at for at, each in enumerate(classes) if each == name] for name in sorted(set(classes))]
    return of(range(len(words))) - sum(len(group) / len(words) * of(group) for group in groups)


def test_expected_information_is_mutual_information_on_binned_flowers():
    """Source: iris in quartile bins, ``sklearn.metrics.mutual_info_score``: .609554 .359637 1.118740 1.188466 bits."""
    data, target = datasets.load_iris(return_X_y=True)
    found = []
    for column in data.T:
        bins = np.digitize(column, np.quantile(column, [0.25, 0.5, 0.75]))
        found.append(information_between([str(each) for each in bins], list(target)))
        assert found[-1] == pytest.approx(metrics.mutual_info_score(bins, target) / math.log(2), abs=1e-9)
    assert found == pytest.approx([0.609554, 0.359637, 1.118740, 1.188466], abs=2e-6)


WEATHER = """
sunny hot high weak no
sunny hot high strong no
overcast hot high weak yes
rain mild high weak yes
rain cool normal weak yes
rain cool normal strong no
overcast cool normal strong yes
sunny mild high weak no
sunny cool normal weak yes
rain mild normal weak yes
sunny mild normal strong yes
overcast mild high strong yes
overcast hot normal weak yes
rain mild high strong no
"""


def test_expected_information_is_the_gain_on_the_fourteen_days_of_weather():
    """Source: Quinlan, Induction of Decision Trees, Machine Learning 1 (1986), table 1: .246 .029 .151 .048."""
    rows = [line.split() for line in WEATHER.split("\n") if line]
    played = [row[-1] for row in rows]
    gains = {
        name: information_between([row[at] for row in rows], played)
        for at, name in enumerate(("outlook", "temperature", "humidity", "wind"))
    }
    assert gains == pytest.approx(
        {"outlook": 0.2467, "humidity": 0.1518, "wind": 0.0481, "temperature": 0.0292}, abs=5e-5
    )


OVERSIZE = (37.95, 38.20)
READING, SIGMA, WEAR = 38.02, 0.02, 0.05


def test_wear_that_goes_one_way_tells_a_worn_oversize_from_a_standard_that_cannot_have_grown():
    """Source: ``scipy.stats.exponnorm``: P(oversize) .993 with one-sided wear, .009 when wear is taken as symmetric."""
    one_sided = [Bump(size, SIGMA, WEAR, Side.SMALLER).log_density(READING) for size in OVERSIZE]
    theirs = [stats.exponnorm.logpdf(size - READING, WEAR / SIGMA, scale=SIGMA) for size in OVERSIZE]
    assert one_sided == pytest.approx(theirs, abs=1e-9)
    assert 1 / (1 + math.exp(one_sided[0] - one_sided[1])) == pytest.approx(0.993, abs=5e-4)
    symmetric = [log_normal(READING - size, math.hypot(SIGMA, WEAR)) for size in OVERSIZE]
    assert 1 / (1 + math.exp(symmetric[0] - symmetric[1])) == pytest.approx(0.009, abs=5e-4)


@pytest.mark.parametrize("sigma", [0.005, 0.03, 1.0])
@pytest.mark.parametrize("wear", [0.002, 0.05, 3.0])
def test_the_worn_density_is_the_exponentially_modified_normal(sigma, wear):
    """Source: ``scipy.stats.exponnorm``, from six sigmas against wear to ten wears along it."""
    for away in np.linspace(-6 * sigma, 6 * sigma + 10 * wear, 41):
        assert log_worn(away, sigma, wear) == pytest.approx(
            stats.exponnorm.logpdf(away, wear / sigma, scale=sigma), rel=1e-7, abs=1e-7
        )


def test_the_worn_density_stays_exact_where_erfc_runs_out_of_digits():
    """Source: continuity, and the normal density that a vanishing wear leads to."""
    around = [log_worn(away, 1.0, 1 / rate) for rate in (35.35, 35.36) for away in (0.0, -0.005, 0.005)]
    assert max(abs(one - other) for one, other in pairwise(around)) < 0.02
    assert log_worn(0.4, 1.0, 1e-3) == pytest.approx(log_normal(0.4 - 1e-3, 1.0), abs=1e-6)
    assert math.isfinite(log_worn(-1e9, 1e-6, 1e-3))


@pytest.mark.parametrize("side", list(Side))
@pytest.mark.parametrize("wear", [0.0, 1e-8, 0.02, 0.5])
def test_every_density_integrates_to_one_between_its_cuts(side, wear):
    bump = Bump(38.0, 0.03, wear, side)
    cuts = bump.cuts()
    whole = sum(integrate.quad(lambda y: math.exp(bump.log_density(y)), a, b)[0] for a, b in pairwise(cuts))
    assert whole == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("none_prior", [0.0, 0.05])
@pytest.mark.parametrize("slip", [0.0, 0.01])
def test_expected_information_of_a_size_agrees_with_adaptive_quadrature(none_prior, slip):
    """Source: ``scipy.integrate.quad`` (QUADPACK) on the same densities."""
    bumps = (
        Bump(37.95, 0.03, 0.05, Side.SMALLER),
        Bump(38.00, 0.03, 0.05, Side.SMALLER),
        Bump(38.20, 0.06, 0.10, Side.EITHER),
        Bump(39.00, 0.03),
    )
    question = NumberQuestion(
        Measure("k", "m", "m", "number"), dict(zip("abcd", (1, 2, 3, 4), strict=True)), bumps, 0.03, 30.0, 45.0, slip
    )
    belief = believe(hypotheses_of("abcd", Options(none_prior=none_prior, weights={"a": 2.0, "d": 0.5})), {}, {})

    def integrand(reading):
        densities = [math.exp(log) for log in question.log_likelihoods(reading)]
        pairs = list(zip(belief.probabilities, [*densities[1:], densities[0]], strict=True))
        mixed = sum(p * f for p, f in pairs)
        return sum(p * f * math.log2(f / mixed) for p, f in pairs if p * f > 0)

    points = sorted({30.0, 45.0, *(cut for bump in bumps for cut in bump.cuts())})
    theirs = sum(integrate.quad(integrand, a, b, epsabs=1e-10)[0] for a, b in pairwise(points))
    assert expected_bits(belief, question) == pytest.approx(theirs, abs=1e-6)


def test_the_logarithm_of_a_sum_survives_sizes_that_overflow():
    """Source: ``numpy.logaddexp``."""
    assert log_sum([-1000.0, -1001.0]) == pytest.approx(np.logaddexp(-1000.0, -1001.0))
    assert log_sum([]) == -math.inf
