"""staylit: a redundancy and failover simulator for large LED walls."""

__version__ = "0.1.0"
