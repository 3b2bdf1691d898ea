"""An invented smallholding: what is true on it, and the record sheets its keeper would have written."""
