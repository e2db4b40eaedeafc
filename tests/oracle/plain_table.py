"""The time table of a data sheet, looked up the long way: one cell at a time.

A blank cell is NaN ("the sheet does not say"), "unlimited" is infinity.
Nothing here comes from the program under test.
"""

import math

#: How a column goes on outside the rows of the table.
#: MINIMUM: times to wait for; RUNNING_OUT: times that run out (pot life, maximum overcoating).
MINIMUM = "minimum"
RUNNING_OUT = "running out"


def is_blank(value):
    """Whether nobody wrote or measured a number there."""
    return math.isnan(value)


def table_value(rows, cells, temp_c, kind):
    """Hours in a column at a temperature; `rows` rise, `cells` are as many."""
    if is_blank(temp_c):
        return math.nan
    if len(rows) == 1:
        return _one_row(rows[0], cells[0], temp_c, kind)
    if temp_c < rows[0]:
        return cells[0]
    if temp_c > rows[-1]:
        return _above_top(rows[-1], cells[-1], temp_c, kind)
    for k in range(len(rows)):
        if temp_c == rows[k]:
            return cells[k]
        if temp_c < rows[k]:
            return between(rows[k - 1], cells[k - 1], rows[k], cells[k], temp_c)
    raise AssertionError("the rows do not rise")


def _one_row(row, cell, temp_c, kind):
    """Colder doubles per 10 K; warmer halves, but a minimum never gets shorter."""
    if temp_c > row and kind == MINIMUM:
        return cell
    return cell * 2.0 ** (-(temp_c - row) / 10.0)


def _above_top(top, cell, temp_c, kind):
    """A minimum keeps the top row; what runs out halves per further 10 K."""
    if kind == MINIMUM:
        return cell
    return cell * 2.0 ** (-(temp_c - top) / 10.0)


def between(low, low_cell, high, high_cell, temp_c):
    """Between two rows: ln(hours) is linear in 1/T with T in kelvin."""
    if is_blank(low_cell) or is_blank(high_cell):
        return math.nan
    if math.isinf(low_cell):
        return high_cell
    if math.isinf(high_cell):
        return low_cell
    if low_cell == 0 or high_cell == 0:
        share = (temp_c - low) / (high - low)
        return low_cell + share * (high_cell - low_cell)
    one_over_low = 1.0 / (low + 273.15)
    one_over_high = 1.0 / (high + 273.15)
    share = (1.0 / (temp_c + 273.15) - one_over_low) / (one_over_high - one_over_low)
    return math.exp(math.log(low_cell) + share * (math.log(high_cell) - math.log(low_cell)))
