"""Standing among peers: published definitions, independent ways, hostile tables of peers."""

import json
from dataclasses import replace

import numpy as np
import pytest
from places import DEMO

from adapterlab.assess import standing as section
from adapterlab.dossier import DossierError, read_dossier
from adapterlab.dossier.peers import read_peers

# --- the dossier's side ---


@pytest.mark.parametrize("name", ["alder-27", "birch-60", "cedar-65", "dogwood-18"])
def test_demo_places_agree_with_the_file(name):
    """Independent: places counted by hand from the numbers in peers.csv."""
    result = section.assess(read_dossier(DEMO / name))
    lines = (DEMO / "peers.csv").read_text(encoding="utf-8").splitlines()
    head = lines[0].split(",")
    rows = [dict(zip(head, line.split(","), strict=True)) for line in lines[1:]]
    power = result.rated_power
    like = [r for r in rows if 0.75 * power <= float(r["rated_power_w"]) <= power / 0.75]
    places = {place.quantity: place for place in result.places}
    assert len(places) == 8
    for quantity, column, factor, lower in (
        ("average_efficiency", "average_efficiency", 1.0, False),
        ("no_load_power", "no_load_power_w", 1.0, True),
        ("touch_current", "touch_current_ua", 1e-6, True),
    ):
        place = places[quantity]
        theirs = np.array([factor * float(row[column]) for row in like])
        worse = theirs > place.value if lower else theirs < place.value
        ties = np.isclose(theirs, place.value, rtol=1e-9)
        counted = (worse & ~ties).sum() + ties.sum() / 2
        assert place.better_than == pytest.approx(counted / len(like))
        assert place.first_place <= len(like) + 1 - counted <= place.last_place + 1
        assert place.low <= (counted + 0.5) / (len(like) + 1) <= place.high


def test_demo_peers_are_at_least_sixty():
    frame, problems = read_peers(DEMO / "peers.csv")
    assert len(frame) >= 60
    assert problems == []


def _with_peers(tmp_path, text):
    folder = tmp_path / "d"
    folder.mkdir()
    (folder / "adapter.toml").write_text(
        '[nameplate]\nname = "x"\nrated_power = "20 W"\nprice = 10.0\nmass = "50 g"\n'
    )
    (folder / "peers.csv").write_text(text)
    return read_dossier(folder)


def test_other_units_are_told_by_the_heading(tmp_path):
    text = "name,rated_power_mw,average_efficiency_percent,mass_kg,ripple_pp_uv\n"
    text += "".join(f"p{i},{18000 + i},{85 + i},0.0{40 + i},{50000 + i}\n" for i in range(5))
    frame, problems = read_peers(_with_peers(tmp_path, text).folder / "peers.csv")
    assert problems == []
    assert frame["rated_power"].tolist() == pytest.approx([18 + i / 1000 for i in range(5)])
    assert frame["average_efficiency"].tolist() == pytest.approx([0.85 + i / 100 for i in range(5)])
    assert frame["mass"].tolist() == pytest.approx([0.040 + i / 1000 for i in range(5)])
    assert frame["ripple_pp"].tolist() == pytest.approx([0.05 + i * 1e-6 for i in range(5)])


def test_duplicates_count_once_and_are_named(tmp_path):
    text = "name,rated_power_w,mass_g\n" + "".join(f"p{i},20,{40 + i}\n" for i in range(5))
    text += "p0,20,40\np1,20,99\n"
    frame, problems = read_peers(_with_peers(tmp_path, text).folder / "peers.csv")
    assert len(frame) == 6
    said = "\n".join(map(str, problems))
    assert "line 7, name: 'p0': is listed twice; counted once" in said
    assert "'p1': stands on lines 3 and 8 with different figures" in said


def test_fewer_than_five_peers_are_not_a_group(tmp_path):
    text = "name,rated_power_w,mass_g\n" + "".join(f"p{i},20,{40 + i}\n" for i in range(4))
    result = section.assess(_with_peers(tmp_path, text))
    said = [f.sentence for f in result.findings if "mass" in f.question]
    assert "only 4 of the adapters in peers.csv are of that kind" in said[0]
    assert result.places == ()


def test_peers_of_another_power_are_no_peers(tmp_path):
    text = "name,rated_power_w,mass_g\n" + "".join(f"p{i},65,{40 + i}\n" for i in range(40))
    result = section.assess(_with_peers(tmp_path, text))
    assert any("none of the adapters in peers.csv" in f.sentence for f in result.findings)


def test_a_small_group_says_so(tmp_path):
    text = "name,rated_power_w,mass_g\n" + "".join(f"p{i},20,{40 + i}\n" for i in range(6))
    result = section.assess(_with_peers(tmp_path, text))
    (said,) = [f.sentence for f in result.findings if "mass" in f.question and f.reading]
    assert "of these 6 peers" in said
    assert "if they were a fair sample, better than" in said
    assert "the group is small" in said


def test_a_link_by_chance_is_not_spoken_of(tmp_path):
    """Spearman of five pairs: a perfect order has p = 0.017, one swap 0.083 (any table of it)."""
    for order, called in (("12345", True), ("21345", None)):
        folder = tmp_path / order
        folder.mkdir()
        text = "name,rated_power_w,price,average_efficiency\n" + "".join(
            f"p{i},20,{5 + i},0.8{digit}\n" for i, digit in enumerate(order)
        )
        group = _with_peers(folder, text)
        frame, _ = read_peers(group.folder / "peers.csv")
        frame["price_per_watt"] = frame["price"] / 20
        place = section.Place("", 1.0, 0.0, "", 5, 0.5, 0.1, 0.9, 1, 1, 0.5, 0.0)
        places = tuple(
            replace(place, quantity=name) for name in ("average_efficiency", "price_per_watt")
        )
        result = replace(section.assess(group), peers=frame, places=places)
        strength, judged, count = result.price_link
        assert count == 5
        assert strength > 0.8
        assert bool(judged.called) == bool(called)


def test_unreadable_peers_are_a_finding_not_a_crash(tmp_path):
    dossier = _with_peers(tmp_path, "name,rated_power_w,mass_g\np,twenty,40\n")
    with pytest.raises(DossierError, match="twenty"):
        read_peers(dossier.folder / "peers.csv")
    result = section.assess(dossier)
    assert [f.word for f in result.findings] == ["not measured"]
    assert (
        "line 2, rated_power_w: 'twenty': is not a number" in next(iter(result.findings)).sentence
    )


def test_a_folder_of_dossiers_is_a_group(tmp_path):
    own = _with_peers(tmp_path, "name,rated_power_w,mass_g\np,20,40\n")
    others = tmp_path / "others"
    for number in range(6):
        (others / f"p{number}").mkdir(parents=True)
        (others / f"p{number}" / "adapter.toml").write_text(
            f'[nameplate]\nname = {json.dumps(f"<b>{number}")}\nrated_power = "20 W"\n'
            f'mass = "{45 + 2 * number} g"\n'
        )
    (others / "broken").mkdir()
    (others / "broken" / "adapter.toml").write_text("[nameplate]\n")
    result = section.assess(own, others)
    (place,) = result.places
    assert place.better_than == pytest.approx(3 / 6)
    assert any("broken is left out" in f.note for f in result.findings)
