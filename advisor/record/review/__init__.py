"""Looking back: was a coat inside the limits in force, by plain readings and nothing else?

"Inside" needs readings all the way through the phase; "outside" a reading, or a straight line
between two readings at most three hours apart, truly beyond the limit; all else is "not known",
with the gap named. No spread, no forecast, no assumption of ours is counted against a coat.
"""
