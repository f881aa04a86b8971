"""How likely a bad night is, and what it costs: by simulation, beside what theory says."""
