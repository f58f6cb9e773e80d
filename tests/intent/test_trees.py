"""Trees read from plain numbers, against scikit-learn's own on the same questions."""

import numpy as np
import pytest
from sklearn.tree import DecisionTreeRegressor

from auditor.intent.trees import Trees, pulls, read_trees, worth

DEPTH = 3


def in_heap_order(tree) -> dict[str, list[list[float]]]:
    """A fitted scikit-learn tree as the lists a model file holds."""
    inner, nodes = 2**DEPTH - 1, 2 ** (DEPTH + 1) - 1
    feature, threshold, value = [-1] * inner, [0.0] * inner, [0.0] * nodes
    todo = [(0, 0)]
    while todo:
        source, at = todo.pop()
        value[at] = float(tree.value[source].ravel()[0])
        if at >= inner:
            continue
        if tree.children_left[source] < 0:
            todo += [(source, 2 * at + 1), (source, 2 * at + 2)]
            continue
        feature[at], threshold[at] = int(tree.feature[source]), float(tree.threshold[source])
        todo += [(tree.children_left[source], 2 * at + 1)]
        todo += [(tree.children_right[source], 2 * at + 2)]
    return {"feature": [feature], "threshold": [threshold], "value": [value]}


@pytest.fixture
def rows():
    return np.random.default_rng(3).normal(size=(400, 5))


def test_agrees_with_scikit_learn(rows):
    wanted = np.sin(3 * rows[:, 0]) + rows[:, 1] * rows[:, 2]
    fitted = DecisionTreeRegressor(max_depth=DEPTH, random_state=0).fit(rows, wanted)
    # Both sides see the single precision scikit-learn compares in.
    rows = rows.astype(np.float32).astype(float)
    held = read_trees(in_heap_order(fitted.tree_))
    np.testing.assert_allclose(worth(held, rows), fitted.predict(rows), atol=1e-9)


def test_pulls_add_up_and_only_asked_figures_pull(rows):
    trees = Trees(
        np.array([[0, 2, -1]]), np.array([[0.0, 1.0, 0.0]]),
        np.array([[1.0, 0.5, 2.0, 0.2, 0.9, 2.0, 2.0]]),
    )  # fmt: skip
    told = pulls(trees, rows)
    np.testing.assert_allclose(told.sum(axis=1) + 1.0, worth(trees, rows))
    assert not told[:, [1, 3, 4]].any()
    np.testing.assert_allclose(told[rows[:, 0] > 0, 0], 1.0)
