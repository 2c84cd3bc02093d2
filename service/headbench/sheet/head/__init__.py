"""The sheets of a head: for the bench, for the customer, and labels for its springs."""
