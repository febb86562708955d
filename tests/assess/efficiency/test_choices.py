"""Which reading a sentence of the efficiency is about, and which word it gets: tables by hand."""

import pytest

from adapterlab.assess import efficiency as section
from adapterlab.assess.efficiency.conditions import conditions_of, not_kept, unrecorded
from adapterlab.assess.efficiency.load import common_range
from adapterlab.assess.efficiency.mains import pair_of
from adapterlab.assess.model.judged import judged_loadings
from adapterlab.assess.model.loadings import sweep_of
from adapterlab.assess.model.specimen import specimen_of
from adapterlab.dossier import read_dossier

METERS = "".join(
    f'[[instruments]]\nname = "m"\nmeasures = "{quantity}"\nfraction_of_reading = "{share}"\n'
    for quantity, share in (
        ("input power", "0.1 %"),
        ("no-load power", "1 %"),
        ("output voltage", "0.1 %"),
        ("output current", "0.1 %"),
    )
)
MODES = {"5 V": (5.0, 3.0), "9 V": (9.0, 2.2), "20 V": (20.0, 1.0)}
HEADER = (
    "point,mains_voltage_v,mains_frequency_hz,input_power_w,port,mode,output_voltage_v,"
    "output_current_a\n"
)


def plate(*modes, rated=20, extra=""):
    listed = ", ".join(
        f'{{ name = "{name}", voltage = "{MODES[name][0]} V", current = "{MODES[name][1]} A" }}'
        for name in modes
    )
    return (
        f'[nameplate]\nname = "fir-20"\nrated_power = "{rated} W"\n{extra}'
        f'[[ports]]\nname = "C"\nconnector = "USB-C"\nmodes = [{listed}]\n'
    )


def sweep(mains, mode, efficiency, first, shares=(1.0, 0.75, 0.5, 0.25, 0.1)):
    """Rows of one mode on one mains, every load with its own efficiency."""
    volts, amperes = MODES[mode]
    values = efficiency if isinstance(efficiency, tuple) else (efficiency,) * len(shares)
    return "".join(
        f"{first + n},{mains},{volts * amperes * share / value:.6f},C,{mode},{volts},"
        f"{amperes * share}\n"
        for n, (share, value) in enumerate(zip(shares, values, strict=True))
    )


def write(folder, rows="", adapter=None, no_load=""):
    text = plate(*MODES) + METERS if adapter is None else adapter
    (folder / "adapter.toml").write_text(text, encoding="utf-8")
    if rows:
        (folder / "load_sweep.csv").write_text(HEADER + rows, encoding="utf-8")
    if no_load:
        head = "mains_voltage_v,mains_frequency_hz,power_w,cable\n"
        (folder / "no_load.csv").write_text(head + no_load, encoding="utf-8")
    return read_dossier(folder)


def finding(dossier, text):
    found = [item for item in section.assess(dossier).findings if text in item.question]
    assert len(found) == 1, [item.question for item in found]
    return found[0]


# --- which reading ---


def test_the_lowest_and_the_highest_point_of_all(tmp_path):
    rows = sweep("230,50", "5 V", (0.80, 0.84, 0.83, 0.79, 0.62), 1)
    rows += sweep("115,60", "20 V", (0.90, 0.91, 0.89, 0.88, 0.80), 6)
    said = finding(write(tmp_path, rows), "lowest and highest")
    assert said.origin == "load_sweep.csv points 5 and 7"
    assert "at 1.5 W from 5 V on 230 V, 50 Hz" in said.sentence
    assert "at 15 W from 20 V on 115 V, 60 Hz" in said.sentence


def test_the_mode_that_changes_most_over_a_range_that_all_have(tmp_path):
    """20 V has no 10 % point: only 25 to 100 % is compared, where 20 V changes more."""
    rows = sweep("230,50", "5 V", (0.80, 0.81, 0.82, 0.79, 0.50), 1)
    rows += sweep("230,50", "20 V", (0.90, 0.91, 0.89, 0.85), 6, (1.0, 0.75, 0.5, 0.25))
    said = finding(write(tmp_path, rows), "change with load")
    assert said.sentence.startswith("Between 25 and 100 % load efficiency changes most for 20 V")
    assert said.origin == "load_sweep.csv points 9 and 7"
    assert said.reading.value == pytest.approx(0.06)


def test_with_ten_per_cent_everywhere_the_range_begins_there(tmp_path):
    rows = sweep("230,50", "5 V", (0.80, 0.81, 0.82, 0.79, 0.50), 1)
    rows += sweep("230,50", "20 V", (0.90, 0.91, 0.89, 0.85, 0.80), 6)
    least, known = common_range(sweep_of(specimen_of(write(tmp_path, rows))).loadings)
    assert (least, len(known)) == (0.1, 2)
    said = finding(read_dossier(tmp_path), "change with load")
    assert said.sentence.startswith("Between 10 and 100 % load efficiency changes most for 5 V")


def test_modes_are_compared_on_each_mains_apart(tmp_path):
    rows = sweep("230,50", "5 V", 0.80, 1) + sweep("230,50", "9 V", 0.86, 6)
    rows += sweep("230,50", "20 V", 0.90, 11) + sweep("115,60", "5 V", 0.70, 16)
    said = finding(write(tmp_path, rows), "modes differ on 230 V")
    assert said.reading.value == pytest.approx(0.10)
    assert "5 V (80.00" in said.sentence
    assert said.judgement.called


@pytest.mark.parametrize(
    ("modes", "mains", "chosen"),
    [
        # Of most power on both, whichever comes first.
        (("5 V", "20 V"), ("230,50", "115,60"), ("20 V", 230, 115)),
        (("20 V", "5 V"), ("115,60", "230,50"), ("20 V", 230, 115)),
        # Of three mains the two furthest apart.
        (("20 V",), ("115,60", "100,50", "230,50"), ("20 V", 230, 100)),
        # 220 and 230 V are one mains.
        (("20 V",), ("220,50", "230,50"), None),
    ],
)
def test_two_mains_of_one_loading(tmp_path, modes, mains, chosen):
    rows, first = "", 1
    for mode in modes:
        for supply in mains:
            rows += sweep(supply, mode, 0.88, first)
            first += 5
    pair = pair_of(sweep_of(specimen_of(write(tmp_path, rows))).loadings)
    found = pair and (
        pair.high.name, round(pair.high_point.mains_voltage), round(pair.low_point.mains_voltage)
    )  # fmt: skip
    assert (found or None) == chosen


@pytest.mark.parametrize(
    ("low", "said", "called"),
    [
        # Errors of 0.1 % of three meters are 0.1 % together; independent 0.14 %, or 0.25 points.
        (0.870, "efficiency is lower by (1.0 ±", True),
        (0.890, "efficiency is higher by (1.0 ±", True),
        (0.8785, "efficiency reads 0.15 percentage points lower", False),
    ],
)
def test_a_difference_between_mains_is_called_or_not(tmp_path, low, said, called):
    rows = sweep("230,50", "20 V", 0.88, 1) + sweep("115,60", "20 V", low, 6)
    judged = finding(write(tmp_path, rows), "mains voltage matter")
    assert said in judged.sentence
    assert judged.judgement.called is called
    assert ("current through the mains side" in judged.sentence) is (called and low < 0.88)


@pytest.mark.parametrize(
    ("idle", "said"),
    [
        (0.05, "skips most of its switching cycles"),
        (2.0, "as far as can be told the same"),
        (9.0, "something draws power that the loss under load does not show"),
    ],
)
def test_the_fixed_loss_beside_the_power_without_load(tmp_path, idle, said):
    """Losses of 2 W at any load: 20 W of 22 W and so on."""
    shares = (1.0, 0.75, 0.5, 0.25, 0.1)
    rows = sweep("230,50", "20 V", tuple(20 * s / (20 * s + 2) for s in shares), 1)
    judged = finding(write(tmp_path, rows, no_load=f"230,50,{idle},none\n"), "rest when nothing")
    assert said in judged.sentence


# --- which word ---


@pytest.mark.parametrize(
    ("cable", "power", "word"),
    [
        # Regulation (EU) 2019/1782, Annex II, 1(a): 0.10 W up to 49 W.
        ("none", 0.05, "meets"),
        ("none", 0.20, "falls short"),
        ("", 0.05, "meets"),
        ("", 0.20, "not judged"),
        ("plugged", 0.05, "not measured"),
    ],
)
def test_power_without_load_and_its_cable(tmp_path, cable, power, word):
    dossier = write(tmp_path, no_load=f"230,50,{power},{cable}\n")
    assert finding(dossier, "without load meet EU 2019/1782").word == word


@pytest.mark.parametrize(
    ("efficiency", "word"),
    [(0.87, "meets"), (0.8523, "too close to call"), (0.84, "falls short")],
)
def test_an_average_against_its_limit(tmp_path, efficiency, word):
    """Regulation (EU) 2019/1782, Annex II, 1(b): 0.071 ln 20 - 0.0014 · 20 + 0.67 = 0.8547; the
    meters' 0.1 % together are 0.2 points."""
    rows = sweep("230,50", "20 V", efficiency + (0.002 if word.startswith("too") else 0), 1)
    assert finding(write(tmp_path, rows), "of 20 V meet EU 2019/1782").word == word


@pytest.mark.parametrize(("rated", "word"), [(250, "not measured"), (251, "no limit applies")])
def test_a_rule_covers_no_more_than_its_scope(tmp_path, rated, word):
    """Regulation (EU) 2019/1782, Art. 1: up to 250 W."""
    dossier = write(tmp_path, adapter=plate("20 V", rated=rated))
    judged = [f for f in section.assess(dossier).findings if "EU 2019/1782" in f.question]
    assert {item.word for item in judged} == {word}


def test_ten_per_cent_of_a_small_adapter(tmp_path):
    """Regulation (EU) 2025/2052, Annex II, Tables 2 and 3: above 10 W only."""
    text = '[nameplate]\nname = "x"\nrated_power = "10 W"\n[[ports]]\nname = "A"\n'
    text += 'connector = "USB-A"\nmodes = [{ name = "5 V", voltage = "5 V", current = "2 A" }]\n'
    judged = finding(write(tmp_path, adapter=text), "10 % load meet EU 2025/2052")
    assert judged.word == "no limit applies"
    assert "up to 10 W" in judged.judgement.reason


def test_a_port_beyond_the_rules_cables(tmp_path):
    text = '[nameplate]\nname = "x"\nrated_power = "120 W"\n[[ports]]\nname = "B"\n'
    text += 'connector = "barrel"\nmodes = [{ name = "20 V", voltage = "20 V", current = "6 A" }]\n'
    judged = finding(write(tmp_path, adapter=text), "average efficiency meet EU 2025/2052")
    assert judged.word == "no limit applies"
    assert "for ports of up to 5 A; B gives 6 A" in judged.sentence


def entries(warm_up="30 min", ambient="20 C", distortion="2 %"):
    text = "[sweep]\n"
    text += f'warm_up = "{warm_up}"\n' if warm_up else ""
    text += f'ambient = "{ambient}"\n' if ambient else ""
    return text + (f'[supply]\ndistortion = "{distortion}"\n' if distortion else "")


@pytest.mark.parametrize(
    ("entry", "broken"),
    [
        # 10 CFR 430 subpart B, appendix Z, 5(a)(1)(ii), 4(b), 4(d): 30 min, 20 ± 5 °C, 2 %.
        (entries(), ""),
        (entries(warm_up="29 min"), "the warm-up was 29 minutes"),
        (entries(ambient="15 C"), ""),
        (entries(ambient="14.9 C"), "the room was 14.9 °C"),
        (entries(ambient="25.1 C"), "the room was 25.1 °C"),
        (entries(distortion="2.1 %"), "the distortion of the supply was 2.1 %"),
        (entries(warm_up="", ambient="", distortion=""), ""),
    ],
)
def test_conditions_of_the_method(tmp_path, entry, broken):
    rows = sweep("230,50", "20 V", 0.90, 1)
    dossier = write(tmp_path, rows, plate("20 V") + METERS + entry)
    reason = not_kept(dossier.adapter)
    assert reason.startswith(broken)
    assert bool(reason) == bool(broken)
    judged = finding(dossier, "of 20 V meet EU 2019/1782")
    assert judged.word == ("not judged" if broken else "meets")
    assert reason in judged.sentence


@pytest.mark.parametrize(
    ("entry", "said"),
    [
        (entries(), ""),
        (entries(warm_up=""), "The warm-up is not recorded."),
        (entries(ambient="", distortion=""),
         "The room and the distortion of the supply are not recorded."),
        ("", "The warm-up, the room and the distortion of the supply are not recorded."),
    ],
)  # fmt: skip
def test_what_is_not_recorded_is_said(tmp_path, entry, said):
    rows = sweep("230,50", "20 V", 0.90, 1)
    dossier = write(tmp_path, rows, plate("20 V") + METERS + entry, "230,50,0.05,none\n")
    assert unrecorded(dossier.adapter) == said
    for text in ("of 20 V meet EU 2019/1782", "without load meet EU 2019/1782"):
        assert said in finding(dossier, text).note
    word = finding(dossier, "taken as the rules' method asks").word
    assert word == ("result" if not said else "not measured")
    assert len(conditions_of(dossier.adapter)) == 3


# --- which loadings a rule judges ---


@pytest.mark.parametrize(
    ("rule", "measured", "judged"),
    [
        # Regulation (EU) 2019/1782: every fixed voltage that was read, else the lowest.
        ("eu-2019-1782", ("9 V",), ["9 V"]),
        ("eu-2019-1782", ("20 V", "5 V"), ["5 V", "20 V"]),
        ("eu-2019-1782", (), ["5 V"]),
        # Regulation (EU) 2025/2052, Annex II, 1(h), and appendix Z, 6(a): both ends.
        ("eu-2025-2052", ("9 V",), ["5 V", "20 V"]),
        ("us-vi", (), ["5 V", "20 V"]),
    ],
)
def test_loadings_of_one_port(tmp_path, rule, measured, judged):
    adapter = write(tmp_path).adapter
    keys = {(("C", name, 0.0),) for name in measured}
    assert [item.key[0][1] for item in judged_loadings(adapter, rule, keys)] == judged


@pytest.mark.parametrize(
    ("label", "rows", "reason"),
    [
        (plate("20 V"), sweep("230,50", "20 V", 0.90, 1), ""),
        (
            plate("20 V"),
            sweep("230,50", "20 V", 0.90, 1) + sweep("230,50", "5 V", 0.80, 6),
            "'5 V' of C was loaded or combined, but the label's list lacks it",
        ),
        (
            plate("20 V").replace('connector = "USB-C"\n', ""),
            sweep("230,50", "20 V", 0.90, 1),
            "the connector of C is not noted",
        ),
    ],
)
def test_a_label_with_gaps_carries_no_verdict(tmp_path, label, rows, reason):
    """The connector decides the cable of the coming rule; the one in force asks for none."""
    dossier = write(tmp_path, rows, label + METERS)
    judged = finding(dossier, "of 20 V meet EU 2025/2052")
    assert judged.word == ("not judged" if reason else "meets")
    assert judged.judgement.reason == reason
    now = finding(dossier, "of 20 V meet EU 2019/1782")
    assert now.word == ("not judged" if "lacks" in reason else "meets")


def test_a_range_without_its_share_is_no_accuracy(tmp_path):
    """What a meter's error may be of its range is no zero because it was left out."""
    ranged = METERS.replace('"0.1 %"\n', '"0.1 %"\nfull_scale = 75.0\n', 1)
    rows = sweep("230,50", "20 V", 0.90, 1)
    dossier = write(tmp_path, rows, plate("20 V") + ranged)
    assert finding(dossier, "of 20 V meet EU 2019/1782").word == "not judged"
    stated = ranged.replace(
        "full_scale = 75.0\n", 'full_scale = 75.0\nfraction_of_full_scale = "0 %"\n'
    )
    dossier = write(tmp_path, rows, plate("20 V") + stated)
    assert finding(dossier, "of 20 V meet EU 2019/1782").word == "meets"
