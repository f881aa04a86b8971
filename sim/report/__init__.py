"""Renderers: each turns finished results into one format; none computes results."""
