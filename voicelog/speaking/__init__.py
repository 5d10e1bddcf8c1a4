"""What the program lets be heard: tones, read-back, and the gate that keeps it from hearing itself."""
