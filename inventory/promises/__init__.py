"""What is promised to people: clubs, pre-orders, orders, and the parcels that keep it."""
