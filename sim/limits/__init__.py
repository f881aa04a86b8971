"""What can be said before anything runs: loads, counts, margins, delays, seamless pairs."""
