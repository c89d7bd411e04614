"""What a skein costs, what the stock is worth, and a year closed."""
