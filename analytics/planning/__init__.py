"""What to set next: how many eggs, which eggs in which machine."""
