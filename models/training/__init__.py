"""The recipe that makes the acoustic model in models/en; README.md says how to run it."""
