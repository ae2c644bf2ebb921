"""Heights, climbs and grades."""
