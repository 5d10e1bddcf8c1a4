"""Speech models on this machine: where they lie, what is known of them, and how one is added."""
