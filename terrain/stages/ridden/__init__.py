"""A recorded ride read against the map: where it stood, how long each way took, what it left."""
