"""Recognisers behind one small protocol, each fed from the same grammar."""
