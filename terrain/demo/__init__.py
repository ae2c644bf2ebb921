"""An invented island to try terrain on; its map, heights and routes ship in data/.

Scenario: two rental yards, one at the harbour and one in the hills, send riders round the island
of Ulenambe in a warm monsoon sea. A sealed ring road joins the coast towns; inland, roads climb
through valleys and over passes, and turn to gravel, forest track and fords. A ferry serves a
small second island. Map, heights and names are invented; the shape of the data is real: tags
are missing, old or at odds with each other as they are on any map.
"""
