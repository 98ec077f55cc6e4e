"""A shelf from above: to scale, the door below, numbers as the roster has them, a length that is known."""

from __future__ import annotations

import pytest

from scheduling.engine.clock import floor_minutes
from scheduling.web.drawing.nights import day_strip, days_over
from scheduling.web.drawing.shelves import ShelfDrawn, Standing, shelf
from scheduling.web.kiln_shelves import Stood, shelves_of
from studios.models import Equipment, Studio
from tests.faces.web.conftest import Reader
from tests.worlds import ZONE, local

KILN = Equipment(
    name="kiln <b>",
    shelf_length_mm=600,
    shelf_width_mm=500,
    shelf_margin_mm=10,
    studio=Studio(name="Flame", slug="flame"),
)


def dish(number: str, x: int = 10, y: int = 10, **facts: bool) -> Standing:
    return Standing(number=number, x_mm=x, y_mm=y, length_mm=150, width_mm=120, **facts)


def drawn(*stands: Standing, inches: bool = False, margin: int = 10) -> Reader:
    return Reader(
        shelf(
            ShelfDrawn(
                length_mm=600,
                width_mm=500,
                margin_mm=margin,
                stands=stands,
                named="Shelf 1",
                said="what stands on it",
                inches=inches,
            )
        )
    )


def test_a_piece_at_the_front_edge_stands_below_where_the_door_is() -> None:
    (front, back) = drawn(dish("1", y=10), dish("2", y=370)).all("rect", class_="shelf-piece")

    assert (front["y"], back["y"]) == ("370", "10")
    assert (front["width"], front["height"]) == ("150", "120")


def test_the_margin_is_drawn_as_wide_as_it_is() -> None:
    (margin,) = drawn(dish("1"), margin=25).all("rect", class_="shelf-margin")

    assert (margin["x"], margin["y"], margin["width"], margin["height"]) == ("25", "25", "550", "450")
    assert not drawn(dish("1"), margin=0).all("rect", class_="shelf-margin")


def test_a_number_never_leaves_its_piece() -> None:
    (long,) = drawn(dish("B 117 118 119")).all("text", class_="shelf-number")
    (short,) = drawn(dish("1")).all("text", class_="shelf-number")

    assert float(long["font-size"]) * 0.62 * len("B 117 118 119") <= 150
    assert float(long["font-size"]) < float(short["font-size"])


@pytest.mark.parametrize(("inches", "length", "said"), [(False, "200", "200 mm"), (True, "101.6", "4 in")])
def test_a_ruler_says_how_long_it_is_in_the_readers_unit(inches: bool, length: str, said: str) -> None:
    picture = drawn(dish("1"), inches=inches)

    (ruler,) = picture.all("path", class_="shelf-ruler")
    assert f"h{float(length):.1f}" in ruler["d"]
    assert said in picture.words


def test_whoever_does_not_see_it_reads_its_name_and_what_stands_on_it() -> None:
    picture = drawn(dish("1"))

    assert picture.all("svg", role="img")
    assert "Shelf 1" in picture.words
    assert "what stands on it" in picture.words


def test_what_lies_in_one_mould_stands_at_one_place_under_all_its_numbers() -> None:
    (shown,) = shelves_of(KILN, [Stood(level=1, at=dish("1")), Stood(level=1, at=dish("2"))], [0.4])

    picture = Reader(shown.picture)
    assert len(picture.all("rect", class_="shelf-piece")) == 1
    assert "1 2" in picture.words
    assert (shown.pieces, shown.fill_percent) == (2, 40)


def test_shelves_are_in_order_from_below_and_names_are_escaped() -> None:
    upper, lower = Stood(level=2, at=dish("2")), Stood(level=1, at=dish("1"))

    first, second = shelves_of(KILN, [upper, lower])

    assert (first.level, second.level) == (1, 2)
    assert "kiln &lt;b&gt;" in first.picture
    assert first.fill_percent is None


def test_a_kiln_without_a_shelf_has_no_pictures() -> None:
    assert shelves_of(Equipment(name="kiln"), [Stood(level=1, at=dish("1"))]) == []


def test_days_reach_from_midnight_to_midnight_over_a_change_of_clocks() -> None:
    frame = days_over([(floor_minutes(local(5, 20)), floor_minutes(local(7, 9)))], ZONE)

    strip = Reader(day_strip(frame, ZONE))
    assert frame.span == (floor_minutes(local(5, 0)), floor_minutes(local(8, 0)))
    assert "Sat 8 Mar" in strip.words
    assert "Mon 10 Mar" in strip.words
    assert len(strip.all("line", class_="midnight")) == 3
