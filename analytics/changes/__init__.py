"""Did a dated change work: before and after, against what it did not touch."""
