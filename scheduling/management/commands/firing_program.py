"""Print a firing program for a glass, a shape, a thickness and a piece of equipment, and draw its curve."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

from django.core.management.base import CommandError, CommandParser

from scheduling.management.base import HouseCommand
from scheduling.management.figures import require_format
from scheduling.management.firing.asked import asked
from scheduling.management.firing.drawn import draw
from scheduling.management.firing.fired import fire
from scheduling.management.firing.printed import lines
from scheduling.management.wording import plain_errors
from studios.thermal import Recipe, Shape
from studios.thermal.firing import LONGEST_WORKING_MIN


class Command(HouseCommand):
    help = (
        "Print the segments to key in, the hours, the energy and the stress of a firing, by a recipe "
        "or for a program of your own; --figure draws its curve."
    )

    def add_arguments(self, parser: CommandParser) -> None:
        _load(parser)
        _equipment(parser)
        _program(parser)
        parser.add_argument("--unit", choices=("C", "F"), help="else the studio's, else C")
        parser.add_argument("--price-per-kwh", type=float, metavar="PRICE")
        parser.add_argument("--figure", type=Path, metavar="FILE", help="draw the curve, as .svg or .png")

    def handle(self, *_args: Any, **options: Any) -> None:
        price, figure = options["price_per_kwh"], options["figure"]
        _require_amounts(options)
        with plain_errors():
            if figure is not None:
                require_format(figure)
            fired = fire(asked(options))
            self.stdout.write("\n".join(lines(fired, price)))
            if figure is not None:
                draw(fired, figure)
                self.stdout.write(f"The curve stands in {figure}.")


def _load(parser: CommandParser) -> None:
    parser.add_argument("--glass", required=True, metavar="SLUG", help="a glass of the book, or a family")
    parser.add_argument("--shape", required=True, metavar="SHAPE", help=", ".join(Shape))
    parser.add_argument(
        "--thickness-mm", type=float, metavar="MM", help="or --thickness-in; of a vessel: its wall"
    )
    parser.add_argument("--thickness-in", type=float, metavar="IN")
    parser.add_argument("--foot-mm", type=float, metavar="MM", help="foot of a vessel")
    parser.add_argument(
        "--fused-with", action="append", metavar="SLUG", help="another glass in the same piece"
    )
    parser.add_argument("--also", action="append", metavar="GLASS:SHAPE:MM", help="another piece of the load")


def _equipment(parser: CommandParser) -> None:
    parser.add_argument("--equipment", metavar="NAME", help="with --studio; its thermal record is used")
    parser.add_argument("--studio", metavar="SLUG", help="its rules and its unit, too")
    parser.add_argument("--on", metavar="DAY", help="the record of that day; today when left out")
    parser.add_argument("--tau-h", type=float, metavar="H", help="time constant, instead of --equipment")
    parser.add_argument("--tau-low-h", type=float, metavar="H", help="time constant below --split-c")
    parser.add_argument("--split-c", type=float, metavar="C")
    parser.add_argument("--ceiling-c", type=float, metavar="C", help="where full power holds it")
    parser.add_argument("--power-kw", type=float, metavar="KW")
    parser.add_argument("--ramp-limit", type=float, metavar="C/H", dest="ramp_limit_c_per_h")
    parser.add_argument("--ambient-c", type=float, metavar="C")
    parser.add_argument("--door-c", type=float, metavar="C")


def _program(parser: CommandParser) -> None:
    parser.add_argument("--recipe", metavar="RECIPE", help=", ".join(Recipe))
    parser.add_argument(
        "--segment",
        action="append",
        metavar="RATE:TARGET:HOLD",
        help="your own program: degrees an hour or full, degrees, minutes; once for each segment",
    )
    parser.add_argument("--start-c", type=float, metavar="C", help="what the equipment has now; else ambient")
    parser.add_argument("--working-h", type=float, default=0.0, metavar="H", help="hours an annealer is held")
    parser.add_argument("--controller-segments", type=int, metavar="N", help="how many the controller takes")


def _require_amounts(options: dict[str, Any]) -> None:
    price, most, working_h = options["price_per_kwh"], options["controller_segments"], options["working_h"]
    if price is not None and not (math.isfinite(price) and price >= 0):
        raise CommandError(f"--price-per-kwh is what one kWh costs; {price:g} is no price.")
    if not 0 <= working_h <= LONGEST_WORKING_MIN / 60:
        raise CommandError(
            f"--working-h is how many hours an annealer is held, at most {LONGEST_WORKING_MIN / 60:g}; "
            f"{working_h:g} is none."
        )
    if most is not None and most < 1:
        raise CommandError(
            f"--controller-segments is how many segments the controller takes; {most} is none."
        )
