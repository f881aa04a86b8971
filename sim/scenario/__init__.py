"""The scenario file: what it may say, what is assumed beyond it, and the plan that it means."""
