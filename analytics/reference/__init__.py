"""What is known of the birds and the trade, as tables with a source on every row."""
