"""The sums of the trade: pure, one family of sums a file, and the same on server and phone."""
