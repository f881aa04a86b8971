"""The discrete-event engine: how a rig fares under a script, and what each cell shows."""
