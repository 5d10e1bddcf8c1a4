"""What practitioners say, typed or spoken into a real session, and compared with what they meant.

`python -m tests.phrases.said --help` tells the command; `facts.py` in what form the two are compared.
"""
