"""The local page: the live exam at a glance, the first start, and the review; served on this machine only."""
