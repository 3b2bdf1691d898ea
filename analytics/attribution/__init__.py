"""Whose loss: the crossed model of pens, machines, batches and trays, and what rests on it."""
