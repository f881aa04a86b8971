"""Practice for the day: what is seen of a fault, and from what is seen back to the fault."""
