"""Measuring: how often recognition is right, asks, errs in silence; and the limits chosen from that."""
