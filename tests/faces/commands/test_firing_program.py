"""A firing program from the terminal, typed as a technician types it."""

from __future__ import annotations

import datetime as dt
import math
import re
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

from studios.models import Season, ThermalRecord
from studios.thermal import FAMILIES, Body, Piece, Recipe, Shape, plan_firing
from tests.worlds import Town

TILE = ("--glass", "fusing-90", "--shape", "plate-on-shelf", "--thickness-mm", "6")
VESSEL = ("--glass", "studio-96", "--shape", "vessel", "--thickness-mm", "10")
OWN_KILN = ("--tau-h", "2.75", "--ceiling-c", "1100", "--power-kw", "4", "--ambient-c", "25")
FUSE = ("--recipe", "full-fuse")
KILN = Body(tau_h=2.75, ceiling_c=1100, power_kw=4, ambient_c=25)


def program(*words: str) -> str:
    printed = StringIO()
    call_command("firing_program", *words, stdout=printed)
    return printed.getvalue()


def block(printed: str, heading: str) -> list[str]:
    """The lines under a heading."""
    _, _, after = printed.partition(f"\n\n{heading}")
    return [line.strip() for line in after.partition("\n\n")[0].splitlines()[1:]]


def cells(line: str) -> list[str]:
    return re.split(r"\s{2,}", line)


def test_a_fused_tile_from_the_families_on_a_bare_bookshelf(db: None) -> None:
    printed = program(*TILE, *FUSE, *OWN_KILN)

    assert printed.startswith("Full fuse: Fusing glass, plate on shelf, 6 mm (0.24 in)\n")
    assert "τ 2.75 h, ceiling 1100 °C, 4 kW, ambient 25 °C, door 50 °C" in printed
    assert "anneals at 515 °C, strain point 480 °C" in printed
    rows = [cells(line) for line in block(printed, "Segments to key in")[1:]]
    assert rows[0] == ["1", "220 °C/h", "518 °C", "-", "studio ceiling"]
    assert rows[1] == ["2", "330 °C/h", "650 °C", "0:30", "equipment", "recipe"]
    assert rows[3] == ["4", "as it goes", "515 °C", "1:00", "equipment", "studio floor"]
    assert rows[4] == ["5", "85 °C/h", "480 °C", "-", "studio ceiling"]
    assert "licensed practice decide" in printed.replace("\n", " ")


def test_the_moments_energy_and_stress_are_those_of_the_plan(db: None) -> None:
    tile = Piece(glass=FAMILIES["fusing-90"].glass, shape=Shape.PLATE_ON_SHELF, thickness_mm=6)
    plan = plan_firing(recipe=Recipe.FULL_FUSE, pieces=[tile], body=KILN)

    printed = program(*TILE, *FUSE, *OWN_KILN, "--price-per-kwh", "0.30")

    shown = {cells(line)[0]: cells(line)[1] for line in block(printed, "Hours and minutes")}
    for name, minutes in plan.moments().named():
        assert shown[name] == f"{math.ceil(minutes) // 60}:{math.ceil(minutes) % 60:02d}"
    assert list(shown) == [
        "at hold",
        "soak ends",
        "below the strain point",
        "may be opened",
        "may be touched",
    ]
    energy = block(printed, "Energy")
    assert energy[0] == (
        f"{plan.energy_kwh:.1f} kWh ({0.3 * plan.energy_kwh:.2f}) from the start to the open door"
    )
    assert f"until {plan.switching_min // 60}:{plan.switching_min % 60:02d}:" in energy[1]
    assert energy[1].endswith("reckon with 4 kW")
    kept = next(cells(line) for line in block(printed, "Stress") if line.startswith("kept"))
    assert kept == ["kept, in the middle", "85 °C/h", "0.24", "0.40", "0.70"]
    assert float(kept[3]) == pytest.approx(float(kept[2]) / 0.6, abs=0.01)
    assert "Gardon & Narayanaswamy" in printed


def test_the_equipment_of_the_book_with_the_record_of_the_day(town: Town) -> None:
    kiln = town.equipment["kiln"]
    ThermalRecord.objects.create(
        equipment=kiln,
        valid_from=dt.date(2031, 3, 1),
        tau_h=5.5,
        ceiling_c=1000,
        power_kw=5,
        ambient_c=25,
        source="test",
    )
    place = ("--equipment", "Kiln", "--studio", "flame")

    before = program(*TILE, *FUSE, *place, "--on", "2031-02-28")
    after = program(*TILE, *FUSE, *place, "--on", "2031-03-01")

    assert "In kiln at Flame on 2031-02-28: τ 2.8 h, ceiling 1150 °C" in before
    assert "In kiln at Flame on 2031-03-01: τ 5.5 h, ceiling 1000 °C" in after
    assert "anneals at 516 °C" in after, "the book's glass goes before the family of the same name"
    assert block(after, "Energy")[-1].endswith("reckon with 5 kW of kiln feeder")


def test_the_season_warms_the_room_of_the_equipment(town: Town) -> None:
    place = ("--equipment", "annealer 1", "--studio", "hot-shop", "--recipe", "anneal")
    ambient = re.compile(r"ambient (\d+) °C")
    usual = ambient.findall(program(*VESSEL, *place, "--on", "2031-07-15"))
    Season.objects.create(studio=town.hot_shop, name="summer", month=6, day=1, warmer_k=6)

    summer = ambient.findall(program(*VESSEL, *place, "--on", "2031-07-15"))

    assert int(summer[0]) == int(usual[0]) + 6


def test_the_studio_is_shown_its_own_unit_and_its_own_ceilings(town: Town) -> None:
    town.flame.temperature_unit = "F"
    town.flame.cooling_6_mm_c_per_h = 40
    town.flame.cooling_12_mm_c_per_h = 20
    town.flame.save()
    place = ("--equipment", "kiln", "--studio", "flame")

    in_f, in_c = program(*TILE, *FUSE, *place), program(*TILE, *FUSE, *place, "--unit", "C")

    assert "72 °F/h     896 °F" in in_f
    assert "°C" not in in_f
    assert "40 °C/h     480 °C" in in_c


def test_gas_is_reckoned_by_its_burner(town: Town) -> None:
    town.equipment["annealer 1"].gas_fired = True
    town.equipment["annealer 1"].save()

    printed = program(*VESSEL, "--recipe", "anneal", "--equipment", "annealer 1", "--studio", "hot-shop")

    assert "may switch the burner on until" in block(printed, "Energy")[-1]


def test_an_annealer_is_held_for_the_hours_of_work(db: None) -> None:
    held = ("--glass", "hot-shop", "--shape", "vessel", "--thickness-mm", "5", "--foot-mm", "10")
    annealer = ("--tau-h", "4", "--ceiling-c", "900", "--power-kw", "8", "--ambient-c", "30")

    unsaid = program(*held, "--recipe", "anneal", *annealer)
    three = program(*held, "--recipe", "anneal", *annealer, "--working-h", "3")

    assert "vessel, 5 mm (0.2 in), foot 10 mm (0.39 in)" in three
    assert "are to be added (--working-h)" in unsaid
    assert "are to be added (--working-h)" not in three
    assert cells(block(three, "Segments")[1])[3:] == ["3:00", "equipment", "working hours"]
    # 8 kW hold 900 °C, so (510 − 30)/(900 − 30) of them hold 510 °C: 4.41 kW, 105.9 kWh a day.
    assert "105.9 kWh for each day that it is held at 510 °C" in three
    assert cells(block(three, "Stress")[1])[1] == "never", "it goes in hot: nothing is heated cold"


def test_a_warm_kiln_is_there_sooner(db: None) -> None:
    def at_hold(*words: str) -> str:
        return cells(block(program(*TILE, *FUSE, *OWN_KILN, *words), "Hours")[0])[1]

    assert at_hold("--start-c", "80") < at_hold()


def test_a_controller_with_few_segments_is_given_no_more(db: None) -> None:
    printed = program(*TILE, *FUSE, *OWN_KILN, "--controller-segments", "4")

    lines = block(printed, "Segments")
    assert [line[0] for line in lines[1:5]] == ["1", "2", "3", "4"]
    assert lines[5] == "then heat off: it cools by itself to 50 °C, no faster than permitted"
    assert lines[6] == "The controller takes 4 segments."


def test_the_equipment_s_own_controller_counts_unless_another_is_named(town: Town) -> None:
    town.equipment["kiln"].controller_segments = 5
    town.equipment["kiln"].save()
    place = ("--equipment", "kiln", "--studio", "flame")

    assert "The controller takes 5 segments." in program(*TILE, *FUSE, *place)
    assert "takes 8 segments." in program(*TILE, *FUSE, *place, "--controller-segments", "8")


def test_the_piece_that_governs_a_mixed_load_is_found(db: None) -> None:
    bead = ("--glass", "soft-104", "--shape", "bead", "--thickness-mm", "15")

    printed = program(*bead, "--also", "soft-104:sphere:40", "--recipe", "batch-anneal", *OWN_KILN)

    assert "Governing piece: Soft lampworking glass, sphere, 40 mm (1.6 in)" in printed
    assert len([line for line in block(printed, "Stress") if "kept, in the middle" in line]) == 2


def test_glass_of_one_expansion_may_be_fused(db: None) -> None:
    printed = program(*TILE, "--fused-with", "float", *FUSE, *OWN_KILN)

    assert printed.startswith("Full fuse:")


def test_the_working_range_where_three_isokoms_are_known(db: None) -> None:
    def working_range(glass: str) -> str:
        load = ("--glass", glass, "--shape", "sphere", "--thickness-in", "1.5")
        return block(program(*load, "--recipe", "anneal", *OWN_KILN), "Working range")[0]

    assert working_range("float") == "1019 °C at 10^4 dPa·s down to 725 °C at 10^7.6 dPa·s"
    assert working_range("soft-104").startswith("not known: no working point is stored")


BORO = ("--glass", "borosilicate-33", "--shape", "cylinder", "--thickness-mm", "20")
GOOD = ("--segment", "150:565:300", "--segment", "40:500:0", "--segment", "full:60:0")


def test_a_technician_s_own_program_is_examined(db: None) -> None:
    printed = program(*BORO, *GOOD, *OWN_KILN)

    assert printed.startswith("A program of your own: Borosilicate 3.3, cylinder, 20 mm (0.79 in)")
    rows = [cells(line) for line in block(printed, "Segments")[1:4]]
    assert rows[0] == ["1", "150 °C/h", "565 °C", "5:00", "as typed", "as typed"]
    assert rows[2] == ["3", "as it goes", "60 °C", "-", "as typed"]
    # From 25 to 565 °C at 150 °C/h is 3 h 36 min, with power to spare, and the soak lasts 5 h.
    moments = {cells(line)[0]: cells(line)[1] for line in block(printed, "Hours")}
    assert moments["at hold"] == "3:36"
    assert moments["soak ends"] == "8:36"
    assert moments["below the strain point"] == "9:51"
    stress = block(printed, "Stress")
    assert "soak held 5:00, needed 3:20" in stress
    assert "TOO" not in printed


def test_what_is_wrong_with_a_program_is_marked(db: None) -> None:
    printed = program(*BORO, "--segment", "full:565:20", "--segment", "full:60:0", *OWN_KILN)

    assert "soak held 0:20, needed 3:20: TOO SHORT" in printed
    thick = (*BORO[:-1], "60")
    assert "TOO MUCH" in program(*thick, "--segment", "full:565:20", "--segment", "full:60:0", *OWN_KILN)


def test_a_program_typed_in_fahrenheit_is_the_same_program(db: None) -> None:
    in_f = ("--segment", "270:1049:300", "--segment", "72:932:0", "--segment", "FULL:140:0")

    printed = program(*BORO, *in_f, *OWN_KILN, "--unit", "F")

    assert cells(block(printed, "Segments")[1])[1:3] == ["270 °F/h", "1049 °F"]
    assert (
        cells(block(printed, "Hours")[0])[1] == cells(block(program(*BORO, *GOOD, *OWN_KILN), "Hours")[0])[1]
    )


def test_a_program_without_a_soak_has_no_such_moments(db: None) -> None:
    printed = program(*BORO, "--segment", "150:565:0", "--segment", "40:60:0", *OWN_KILN)

    assert cells(block(printed, "Hours")[0])[0] == "below the strain point"


@pytest.mark.parametrize("name", ["curve.svg", "curve.png", "CURVE.SVG"])
def test_the_curve_is_drawn_the_same_each_time(db: None, tmp_path: Path, name: str) -> None:
    first, second = tmp_path / name, tmp_path / f"again-{name}"

    printed = program(*TILE, *FUSE, *OWN_KILN, "--figure", str(first))
    program(*TILE, *FUSE, *OWN_KILN, "--figure", str(second))

    assert printed.endswith(f"The curve stands in {first}.\n")
    assert first.read_bytes() == second.read_bytes()
    assert first.stat().st_size > 10_000


def test_the_drawing_names_phases_and_moments_and_both_scales(db: None, tmp_path: Path) -> None:
    file = tmp_path / "curve.svg"

    program(*TILE, *FUSE, *OWN_KILN, "--figure", str(file))

    drawn = file.read_text(encoding="utf-8")
    words = (
        "heat-up",
        "holding",
        "soak 1:00",
        "annealing",
        "cooling",
        "at hold",
        "may be opened",
        "°C",
        "°F",
    )
    assert [word for word in words if word not in drawn] == []
    assert drawn.count('id="got"') == 1
    assert drawn.count('id="asked"') >= 2
    assert "what the program asks" in drawn


def test_nothing_is_dashed_where_the_equipment_follows(db: None, tmp_path: Path) -> None:
    file = tmp_path / "curve.svg"
    quick = ("--tau-h", "0.5", "--ceiling-c", "1400", "--power-kw", "9", "--ambient-c", "25")

    printed = program(*TILE, *FUSE, *quick, "--controller-segments", "4", "--figure", str(file))

    assert block(printed, "Where the equipment cannot follow") == ["nowhere"]
    assert 'id="asked"' not in file.read_text(encoding="utf-8")


FLOAT_96 = ("--fused-with", "hot-shop")


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (
            (*TILE, *FLOAT_96, *FUSE, *OWN_KILN),
            r"expand differently: fused in one piece .* about 1\d\.\d MPa",
        ),
        (
            (*TILE, *FUSE, *OWN_KILN, "--door-c", "25"),
            r"door temperature \(25 °C\) must lie above the ambient",
        ),
        (
            (*TILE, *FUSE, *OWN_KILN, "--door-c", "20"),
            r"door temperature \(20 °C\) must lie above the ambient",
        ),
        ((*TILE, *FUSE, *OWN_KILN, "--door-c", "120"), "never opened above 93 °C; 120 °C is too hot"),
        (
            (*TILE, *FUSE, "--tau-h", "2", "--ceiling-c", "790", "--power-kw", "4"),
            "800 °C is out of reach: at full power this equipment settles at 790 °C",
        ),
        (
            (*TILE, "--segment", "100:1200:10", "--segment", "50:60:0", *OWN_KILN),
            "1200 °C is out of reach: at full power this equipment settles at 1100 °C",
        ),
        ((*TILE[:-1], "-6", *FUSE, *OWN_KILN), "must lie between 0.1 and 300 mm; -6 mm does not"),
        ((*TILE[:-1], "0", *FUSE, *OWN_KILN), "must lie between 0.1 and 300 mm; 0 mm does not"),
        ((*TILE[:-1], "6000", *FUSE, *OWN_KILN), "must lie between 0.1 and 300 mm; 6000 mm does not"),
        ((*TILE[:-1], "nan", *FUSE, *OWN_KILN), "must lie between 0.1 and 300 mm; nan mm does not"),
        (
            ("--glass", "jelly", *TILE[2:], *FUSE, *OWN_KILN),
            "No glass is called “jelly”. Known: float, hot-shop",
        ),
        ((*TILE, "--fused-with", "jelly", *FUSE, *OWN_KILN), "No glass is called “jelly”"),
        (
            (*TILE, "--segment", "150:800:10", *OWN_KILN),
            r"ends at 800 °C, above the strain point \(480 °C\), with no cooling stage",
        ),
        ((*TILE, "--segment", "150:520:60", "--segment", "80:20:0", *OWN_KILN), "Nothing cools to 20 °C"),
        ((*TILE, "--foot-mm", "9", *FUSE, *OWN_KILN), "Only a vessel has a foot"),
        ((*TILE, *FUSE, *OWN_KILN, "--controller-segments", "2"), "needs at least 4 segments .* takes 2"),
        ((*BORO, *GOOD, *OWN_KILN, "--controller-segments", "2"), "needs at least 3 segments .* takes 2"),
        ((*TILE, *FUSE, *OWN_KILN, "--controller-segments", "0"), "0 is none"),
        ((*TILE, *FUSE, *OWN_KILN, "--start-c", "200"), "At 200 °C nobody loads a kiln"),
        (
            (*TILE, *FUSE, *OWN_KILN, "--start-c", "nan"),
            "start_c must lie between -40 and 2500; nan does not",
        ),
        (
            (*BORO, *GOOD, *OWN_KILN, "--start-c", "nan"),
            "start_c must lie between -40 and 2500; nan does not",
        ),
        ((*BORO, *GOOD, *OWN_KILN, "--start-c", "-300"), "start_c must lie between -40 and 2500; -300 does"),
        ((*TILE, *FUSE, *OWN_KILN, "--working-h", "2"), "a full fuse program has none. Leave them out"),
        ((*BORO, *GOOD, *OWN_KILN, "--working-h", "2"), "no --working-h"),
        ((*BORO, *FUSE, *OWN_KILN), "needs at least 820 °C for full fuse"),
        ((*TILE, "--also", "borosilicate-33:bead:9", *FUSE, *OWN_KILN), "cannot share a firing"),
        ((*TILE, "--also", "a-bead", *FUSE, *OWN_KILN), "'a-bead' is no piece; write it GLASS:SHAPE:MM"),
        ((*TILE, "--also", "float:bead:thick", *FUSE, *OWN_KILN), "'float:bead:thick' is no piece"),
        (
            (*TILE[:2], "--shape", "teapot", *TILE[4:], *FUSE, *OWN_KILN),
            "no shape 'teapot'; there are: plate-on",
        ),
        ((*TILE, "--recipe", "fry", *OWN_KILN), "no recipe 'fry'; there are: anneal, batch-anneal"),
        ((*TILE, *OWN_KILN), "Name a program with --recipe, or give your own"),
        ((*TILE, *FUSE, "--segment", "1:2:3", *OWN_KILN), "Name a program with --recipe, or give your own"),
        ((*TILE[:4], *FUSE, *OWN_KILN), "Give the thickness once"),
        ((*TILE, "--thickness-in", "0.25", *FUSE, *OWN_KILN), "Give the thickness once"),
        ((*TILE, *FUSE), "or add --tau-h and --ceiling-c and --power-kw"),
        ((*TILE, *FUSE, "--tau-h", "2", "--power-kw", "4"), "or add --ceiling-c"),
        ((*TILE, *FUSE, *OWN_KILN[2:], "--tau-h", "0"), "tau_h must lie between 0.01 and 200; 0 does not"),
        ((*TILE, *FUSE, *OWN_KILN, "--price-per-kwh", "-1"), "-1 is no price"),
        ((*TILE, *FUSE, *OWN_KILN, "--price-per-kwh", "nan"), "nan is no price"),
        ((*TILE, *FUSE, "--equipment", "kiln"), "Say in which studio"),
        (
            (*TILE, *FUSE, *OWN_KILN, "--equipment", "kiln"),
            "leave out --tau-h and --ceiling-c and --power-kw",
        ),
        ((*TILE, *FUSE, *OWN_KILN, "--studio", "barn"), "There is no studio 'barn'"),
        (
            (*TILE, *FUSE, *OWN_KILN, "--figure", "curve.pdf"),
            "A figure is written as .svg or .png; curve.pdf",
        ),
        (
            (*TILE, *FUSE, *OWN_KILN, "--figure", "no/where.svg"),
            "no/where.svg cannot be written: No such file",
        ),
        ((*TILE, *FUSE, *OWN_KILN, "--unit", "K"), "invalid choice: 'K'"),
        ((*TILE[:-1], "thick", *FUSE, *OWN_KILN), "invalid float value: 'thick'"),
        *(
            (
                (*TILE, "--segment", typed, *OWN_KILN),
                f"'{re.escape(typed)}' is no segment; write it RATE:TARGET:HOLD",
            )
            for typed in ("", "150", "150:520", "fast:520:10", "150:hot:10", "150:520:nan", "150:520:10:4")
        ),
        (
            (*TILE, "--segment", "0:520:60", *OWN_KILN),
            "rate_c_per_h must lie between 0.01 and 9999; 0 does not",
        ),
        ((*TILE, "--segment", "150:520:-5", *OWN_KILN), "hold_min must lie between 0 and 60000; -5 does not"),
    ],
)
def test_what_cannot_be_fired_is_refused_in_one_line(
    db: None, words: tuple[str, ...], sentence: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)

    with pytest.raises(CommandError, match=sentence) as refused:
        program(*words)

    assert "\n" not in str(refused.value)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (
            ("--equipment", "oven"),
            "Flame has no equipment 'oven'; it has: kiln, saw, small annealer, torch 1",
        ),
        (("--equipment", "saw"), "saw has no thermal record"),
        (("--equipment", "kiln", "--on", "soon"), "'soon' is no day; write it like 2027-03-09"),
        (("--equipment", "kiln", "--on", "1066-10-14"), "The book goes from 2000 to 2200"),
        (
            ("--equipment", "kiln", "--glass", "jelly"),
            "Known: boro-33, fusing-90, soft-104, studio-96, float",
        ),
    ],
)
def test_what_the_book_does_not_hold_is_named(town: Town, words: tuple[str, ...], sentence: str) -> None:
    with pytest.raises(CommandError, match=sentence):
        program(*TILE, *FUSE, "--studio", "flame", *words)


def test_nothing_is_said_of_the_rest_of_a_program_of_ones_own(db: None) -> None:
    """Switched off at the strain point, a thick piece in a fibre kiln cools far too fast."""
    block_60 = ("--glass", "fusing-90", "--shape", "plate-on-shelf", "--thickness-mm", "60")
    fibre = ("--tau-h", "0.5", "--ceiling-c", "1100", "--power-kw", "4")

    printed = program(*block_60, *fibre, "--segment", "5:515:900", "--segment", "1:480:0")

    assert "then heat off: it cools by itself to 50 °C\n" in printed
    assert "no faster than permitted" not in printed
    assert "TOO MUCH" in printed


@pytest.mark.parametrize("hours", ["-3", "400", "nan"])
def test_no_annealer_is_held_for_such_hours(db: None, hours: str) -> None:
    with pytest.raises(CommandError, match="--working-h is how many hours an annealer is held, at most 336"):
        program(*TILE, "--recipe", "anneal", *OWN_KILN, "--working-h", hours)
