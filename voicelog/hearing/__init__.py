"""From sound to ranked hypotheses: sources, end-pointing, engines, the decision to accept, ask or ignore."""
