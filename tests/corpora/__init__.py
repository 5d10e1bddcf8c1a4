"""Test and tuning speech, made reproducibly with freely licensed voices.

Nothing here is imported at run time. The speech itself stays outside the repository: every command takes the
folder to fill. See README.md beside this file for the commands and for what has to be installed.
"""
