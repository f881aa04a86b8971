"""The rig: walls, equipment, plans of topologies, and the rig graph that they become."""
