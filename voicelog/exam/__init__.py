"""The exam: what was entered, what it makes of the eyes, what contradicts what, and what is missing.

Everything here is pure: events fold into a state; a meaning and a state give a reply. No sound, no storage, no screen.
"""
