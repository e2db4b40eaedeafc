"""A look back in plain loops: which minutes were outside a limit, and which nobody covered.

Readings are (minute, value) of one quantity, minutes rising. All times are whole minutes.
"""

import itertools

LINE = 180  # a line is drawn over at most so many minutes
ROUND = 270  # while applying two readings this far apart still belong together
STANDS = 30  # a reading stands so long beside the beginning or end of a phase


def value_at(readings, minute):
    """The value at a minute: as read, or on a line between two near readings; None if neither."""
    for at, value in readings:
        if at == minute:
            return value
    for (before, low), (after, high) in itertools.pairwise(readings):
        if before < minute < after and after - before <= LINE:
            return low + (high - low) * (minute - before) / (after - before)
    return None


def outside_minutes(readings, limit, first, last):
    """Minutes of [first, last] at which the value is under the limit."""
    found = set()
    for minute in range(first, last + 1):
        value = value_at(readings, minute)
        if value is not None and value < limit:
            found.add(minute)
    return found


def gaps(readings, limit, first, last, applied_until):
    """Stretches (from, to) of [first, last] that no reading covers, by half minutes.

    A reading parts a stretch in two.
    """
    bare = [
        not _covered(readings, limit, minute + 0.5, applied_until) for minute in range(first, last)
    ]
    read, found = {at for at, _ in readings}, []
    for minute, is_bare in zip(range(first, last), bare, strict=True):
        if is_bare and found and found[-1][1] == minute and minute not in read:
            found[-1] = (found[-1][0], minute + 1)
        elif is_bare:
            found.append((minute, minute + 1))
    return [gap for gap in found if not _stood_for(readings, limit, gap)]


def _covered(readings, limit, moment, applied_until):
    for (before, low), (after, high) in itertools.pairwise(readings):
        if not before < moment < after:
            continue
        if after - before <= LINE:
            return True
        both = low >= limit and high >= limit
        return moment < applied_until and after - before <= ROUND and both
    return False


def _stood_for(readings, limit, gap):
    before = [(at, value) for at, value in readings if at <= gap[0]]
    after = [(at, value) for at, value in readings if at >= gap[1]]
    if before and before[-1][1] >= limit and gap[1] - before[-1][0] <= STANDS:
        return True
    return bool(after) and after[0][1] >= limit and after[0][0] - gap[0] <= STANDS
