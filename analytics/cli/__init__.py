"""The commands of `penwise`, one file for each group of them."""
