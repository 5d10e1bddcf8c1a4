"""The record: an append-only, chained journal of every exam, the sound beside it, and the ways out of it.

Nothing here guesses or repairs: an event is kept whole or refused with a reason, and what does not add up is reported.
"""
