"""The commands and their options."""

from __future__ import annotations

import argparse
import math
from typing import NoReturn

import advisor
from advisor.base.errors import InputError
from advisor.base.units import UNIT_SYSTEMS
from advisor.cli.record_arguments import add_record
from advisor.cli.values import file_path, number, temperature
from advisor.planning.job import METHODS, SUBSTRATES

LATER = ("plan",)
SURFACE_KINDS = ("contact", "ir-tape", "ir-gloss", "ir-metal")
EPILOG = "The maker's data sheet, local codes and licensed practice come first."
CHANCE_HELP = (
    'Without an outlook of many scenarios, "chance" is the chance that the surface stays above '
    "the dew point until the film can take dew, by the error of the instruments alone."
)


class Parser(argparse.ArgumentParser):
    """A parser whose errors are one line and an InputError, not an exit."""

    def error(self, message: str) -> NoReturn:
        """Raise instead of printing usage."""
        raise InputError(f"{message} (see {self.prog} --help)")


def build_parser() -> Parser:
    """Return the parser of the whole command line; `command` is None for the window."""
    parser = Parser(
        prog="advisor",
        description="May this coat start? Windows for paint from air, surface and data sheet. "
        "Without a command the window opens.",
        epilog=EPILOG,
        allow_abbrev=False,
        parents=[_common(top=True)],
    )
    parser.add_argument("--version", action="version", version=advisor.__version__)
    parser.add_argument("--demo", action="store_true", help="open on the invented demo job")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", parser_class=Parser)
    _add_check(commands)
    _add_windows(commands)
    _add_outlook(commands)
    _add_readings(commands)
    _add_products(commands)
    _add_record(commands)
    for name in LATER:
        commands.add_parser(name, help="comes in a later version", add_help=False)
    return parser


Commands = argparse._SubParsersAction  # the only name argparse has for it


def _common(*, top: bool = False) -> Parser:
    """Options of every command; they may stand before or after its name."""
    shared = Parser(add_help=False, allow_abbrev=False)

    def fallback(value: object) -> object:
        # A default below the command would undo what was given before it.
        return value if top else argparse.SUPPRESS

    group = shared.add_argument_group("for every command")
    group.add_argument("--json", action="store_true", default=fallback(False),
                       help="print JSON in °C, K, %% and hours")  # fmt: skip
    group.add_argument("--units", choices=UNIT_SYSTEMS, default=fallback("metric"),
                       help="units of the printed text; options stay in °C (or 65F)")  # fmt: skip
    group.add_argument("--database", type=file_path, metavar="PATH", default=fallback(None))
    group.add_argument("--time-zone", metavar="Z", default=fallback(None),
                       help="IANA name for times without offset and for print; or UTC")  # fmt: skip
    return shared


def _command(commands: Commands[Parser], name: str, help_text: str) -> Parser:
    return commands.add_parser(
        name, help=help_text, description=f"{help_text}. {CHANCE_HELP}", epilog=EPILOG,
        allow_abbrev=False, parents=[_common()],
    )  # fmt: skip


def _add_check(commands: Commands[Parser]) -> None:
    check = _command(commands, "check", "May this coat start, now or at one time")
    air = check.add_argument_group("read at the work (now)")
    air.add_argument("--air", type=temperature, metavar="C", help="air temperature")
    air.add_argument("--rh", type=number(0, 100, "%", above=True), metavar="PCT")
    air.add_argument("--wet-bulb", type=temperature, metavar="C", help="instead of --rh")
    air.add_argument("--pressure", type=number(500, 1100, "hPa"), metavar="HPA")
    air.add_argument("--altitude", type=number(-500, 5500, "m"), metavar="M",
                     help="instead of --pressure")  # fmt: skip
    air.add_argument("--surface", type=temperature, metavar="C", help="coldest spot to be painted")
    air.add_argument("--surface-hot", type=temperature, metavar="C", help="hottest spot")
    air.add_argument("--surface-kind", choices=SURFACE_KINDS, default="contact",
                     help="how it was read; infra-red on gloss or metal: ±3 K")  # fmt: skip
    when = check.add_argument_group("when")
    when.add_argument("--conditions", type=file_path, metavar="FILE",
                      help="log or weather file: judge until the film can take dew")  # fmt: skip
    when.add_argument("--at", metavar="TIME", help="start; now without")
    when.add_argument("--stale-after-min", type=number(0, 1440, "min", above=True), default=60.0,
                      metavar="MIN", help="a reading older than this is not now")  # fmt: skip
    _conditions(when)
    _coat(check, product_required=False)
    _before(check)


def _add_windows(commands: Commands[Parser]) -> None:
    windows = _command(commands, "windows", "When may this coat start, along a log or forecast")
    when = windows.add_argument_group("when")
    when.add_argument("--conditions", type=file_path, metavar="FILE", required=True,
                      help="log or weather file")  # fmt: skip
    when.add_argument("--from", dest="from_time", metavar="TIME", help="first start")
    when.add_argument("--days", type=number(0, 36600, "days", above=True), metavar="N",
                      help="days of 24 hours from there")  # fmt: skip
    when.add_argument("--starts", action="store_true", help="list every start too")
    when.add_argument("--dried", metavar="TIME", help="dried and wiped at")
    _conditions(when)
    _coat(windows, product_required=True)


def _conditions(group: argparse._ArgumentGroup) -> None:
    group.add_argument("--station", metavar="NAME", help="which station of the file")
    group.add_argument(
        "--date-order", choices=("dmy", "mdy"), help="day or month first in the file"
    )
    group.add_argument("--surface-lag-h", type=number(0, 1000, "h"), metavar="H",
                       help="assume a surface this far behind the air if none given")  # fmt: skip


def _coat(command: Parser, *, product_required: bool) -> None:
    coat = command.add_argument_group("the coat")
    coat.add_argument("--product", metavar="ID|FILE", required=product_required)
    coat.add_argument("--previous", metavar="ID|FILE@START/END",
                      help="the coat below: first patch to last patch")  # fmt: skip
    coat.add_argument("--reverse", action="store_true",
                      help="this coat goes on in the reverse order of the one below")  # fmt: skip
    coat.add_argument("--method", choices=METHODS)
    above_zero = number(0, math.inf, above=True)
    coat.add_argument("--area-m2", type=above_zero, metavar="A")
    coat.add_argument("--pace-m2-per-h", type=above_zero, metavar="P")
    coat.add_argument("--apply-hours", type=number(0, 1000, "h"), metavar="H")
    coat.add_argument("--mix-temp", type=temperature, metavar="C", help="of paint and hardener")
    coat.add_argument("--fast-thinner", action="store_true")
    coat.add_argument("--burner", action="store_true", help="an unvented flame heats the shop")
    place = command.add_argument_group("the place")
    place.add_argument("--substrate", choices=SUBSTRATES)
    place.add_argument("--trend", choices=("rising", "falling"),
                       help="surface trend the specification asks for")  # fmt: skip
    place.add_argument("--outdoors", action="store_true", help="rain and wind count")
    place.add_argument("--wind-limit", type=number(0, 100, "m/s"), metavar="MS")
    place.add_argument("--working-hours", metavar="HOURS",
                       help='such as "mon-fri 17:00-21:00, sat 08:00-18:00"')  # fmt: skip
    error = command.add_argument_group("instruments, as makers' ±")
    error.add_argument("--air-accuracy", type=number(0, 20, "K"), metavar="K")
    error.add_argument("--rh-accuracy", type=number(0, 50, "%"), metavar="PCT")
    error.add_argument("--surface-accuracy", type=number(0, 20, "K"), metavar="K")
    error.add_argument("--certain", action="store_true", help="no spread: central values decide")


def _before(check: Parser) -> None:
    before = check.add_argument_group("before the start")
    before.add_argument("--dried", metavar="TIME", help="dried and wiped at")
    before.add_argument("--prepared", metavar="TIME", help="sanded, blasted or wiped at")
    before.add_argument("--timber-moisture", type=number(0, 200, "%"), metavar="PCT")
    before.add_argument("--tin-temp", type=temperature, metavar="C")


def _add_outlook(commands: Commands[Parser]) -> None:
    outlook = _command(commands, "outlook", "Air and surface of every area in the coming days")
    outlook.add_argument("--job", type=file_path, metavar="FILE",
                         help="job file; without it the job in hand")  # fmt: skip
    outlook.add_argument("--weather", type=file_path, metavar="FILE",
                         help="weather outdoors, instead of a fetched forecast")  # fmt: skip
    outlook.add_argument("--days", type=number(0, 16, "days", above=True), default=7.0, metavar="N")
    outlook.add_argument("--fetch", action="store_true",
                         help="ask the chosen forecast service first, if it is due")  # fmt: skip
    outlook.add_argument("--picture", type=file_path, metavar="FILE.svg",
                         help="write a picture of each area")  # fmt: skip


def _add_readings(commands: Commands[Parser]) -> None:
    readings = _command(commands, "readings", "Readings in the database")
    actions = readings.add_subparsers(
        dest="action", metavar="ACTION", required=True, parser_class=Parser
    )
    load = _command(actions, "import", "Read a log or weather file into the database")
    load.add_argument("file", type=file_path, metavar="FILE")
    load.add_argument("--station", metavar="NAME")
    load.add_argument("--date-order", choices=("dmy", "mdy"), help="day or month first in the file")
    load.add_argument("--column", action="append", default=[], metavar="NAME=FIELD",
                      help='what a column is, such as "Probe 2=surface_temp_c"')  # fmt: skip
    load.add_argument("--dry-run", action="store_true", help="read and report, keep nothing")
    save = _command(actions, "export", "Write all readings to a CSV file")
    save.add_argument("file", type=file_path, metavar="FILE.csv")
    save.add_argument("--force", action="store_true", help="write over a file that is there")


def _add_products(commands: Commands[Parser]) -> None:
    products = _command(commands, "products", "Product files and templates")
    actions = products.add_subparsers(
        dest="action", metavar="ACTION", required=True, parser_class=Parser
    )
    _command(actions, "list", "List all products")
    show = _command(actions, "show", "Print one product as a product file")
    show.add_argument("product", metavar="ID|FILE")
    lint = _command(actions, "lint", "Look product files over")
    lint.add_argument("products", metavar="ID|FILE", nargs="*")


def _add_record(commands: Commands[Parser]) -> None:
    record = _command(commands, "record", "The conditions record: keep, correct, check, give away")
    actions = record.add_subparsers(
        dest="action", metavar="ACTION", required=True, parser_class=Parser
    )
    add_record(lambda name, help_text: _command(actions, name, help_text))
