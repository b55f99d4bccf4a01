"""A workshop's register of orders: what was made, from what, and which serial numbers were given."""
