"""What a machine and its signs tell: levels that shift, climate, water; numbers only."""
