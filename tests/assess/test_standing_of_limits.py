"""Every limit that judges in the demo reviews can be found, and says whether it is in force."""

import pytest
from demo import NAMES, assessed

from adapterlab.judgement import FALLS_SHORT, MEETS, NOT_JUDGED, TOO_CLOSE

JUDGED = (MEETS, FALLS_SHORT, TOO_CLOSE)
# What a dossier or a maker's note says of its own part is no standard.
OWN = ("adapter.toml", "nameplate", "dossier", "rating", "design note", "guide of a maker")


def limits(name):
    return [item for item in assessed(name).findings if item.limit is not None]


@pytest.mark.parametrize("name", NAMES)
def test_published_limits_say_whether_they_are_in_force(name):
    for item in limits(name):
        limit = item.limit
        if limit.standing is None:
            assert limit.known == "noted" or any(word in limit.source for word in OWN), item
            continue
        assert limit.standing.said in item.sentence or item.function.startswith(
            "output_quality.expected"
        )
        if limit.standing.state in ("superseded", "withdrawn", "to come"):
            assert "in force" not in limit.standing.said


@pytest.mark.parametrize("name", NAMES)
def test_weak_figures_never_judge(name):
    for item in limits(name):
        if item.limit.known in ("one", "computed", "memory", "not found", "common practice"):
            assert item.word == NOT_JUDGED, item
        if item.limit.known == "second-hand" and not item.limit.witness:
            assert item.word == NOT_JUDGED, item
        if item.word in JUDGED:
            assert len(item.limit.source) > 10, item
