"""Record sheets: the contract, reading, checking, loading, withdrawing, writing."""
