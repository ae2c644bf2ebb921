"""How the ride suits the rider, and what to take, check and heed."""
