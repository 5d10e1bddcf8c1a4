"""What may be said: the grammar, its automaton, and the meanings it yields.

Reads JSGF files, and knows nothing of sound, storage or screens.
"""
