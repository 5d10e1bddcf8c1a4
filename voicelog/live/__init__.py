"""A live exam: listening, tones and read-back, the exchange as a table, the pre-flight and the latency bench."""
