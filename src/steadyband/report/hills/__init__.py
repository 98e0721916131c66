"""The ground: profiles, plans, climbs and the same hill again."""
