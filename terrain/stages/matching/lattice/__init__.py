"""The hidden Markov model of a ride and its compiled loops."""
