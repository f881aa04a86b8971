"""The mathematics of failure: estimates, posterior rates, Markov chains, cut sets, money."""
