"""Windows from verdicts: runs of starts, short ones swallowed by the worse neighbour.

Nothing here comes from the program under test.
"""

#: From best to worst.
ORDER = ["go", "borderline", "unknown", "wait"]
SHORT_MIN = 20
STEP_MIN = 5


def windows(verdicts):
    """List of (first start, last start, verdict)."""
    runs = merge_equal([(k, k, verdict) for k, verdict in enumerate(verdicts)])
    while True:
        place = next_to_swallow(runs)
        if place is None:
            return runs
        first, last, _ = runs[place]
        runs[place] = (first, last, worse_neighbour(runs, place))
        runs = merge_equal(runs)


def merge_equal(runs):
    """Join neighbours of the same verdict."""
    merged = []
    for first, last, verdict in runs:
        if merged and merged[-1][2] == verdict:
            merged[-1] = (merged[-1][0], last, verdict)
        else:
            merged.append((first, last, verdict))
    return merged


def minutes(run):
    """From the first start to the last one; a single start lasts no time at all."""
    return (run[1] - run[0]) * STEP_MIN


def next_to_swallow(runs):
    """The shortest short run that has a worse neighbour, then the earliest; or None."""
    best = None
    for k, run in enumerate(runs):
        if run[2] not in ("go", "borderline") or minutes(run) >= SHORT_MIN:
            continue
        neighbour = worse_neighbour(runs, k)
        if neighbour is None or ORDER.index(neighbour) <= ORDER.index(run[2]):
            continue
        if best is None or minutes(run) < minutes(runs[best]):
            best = k
    return best


def worse_neighbour(runs, place):
    """The worse verdict of the runs beside this one; None when it stands alone."""
    beside = []
    if place > 0:
        beside.append(runs[place - 1][2])
    if place < len(runs) - 1:
        beside.append(runs[place + 1][2])
    if not beside:
        return None
    return max(beside, key=ORDER.index)
