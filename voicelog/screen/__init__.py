"""What is seen: the terminal screen, and later the local page."""
