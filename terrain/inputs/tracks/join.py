"""Several recordings of one trip made one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from terrain.errors import TrackError
from terrain.inputs.tracks.clean import cleaned
from terrain.inputs.tracks.fixes import Fixes
from terrain.text.message import message
from terrain.values.track import Track


def joined(tracks: Sequence[Track]) -> Track:
    """The recordings in the order of their times.

    Raises TrackError if two of them were made at one time in different places.
    """
    if not tracks:
        raise TrackError(
            message("no recording was given"), "", message("Name the files of the ride.")
        )
    if len(tracks) == 1:
        return tracks[0]
    order = sorted(tracks, key=lambda track: float(track.time_s[0]))
    counts = [track.n_fixes for track in order]
    parts = np.repeat(np.arange(len(order)), counts)
    source = ", ".join(dict.fromkeys(track.source for track in order))
    fixes = Fixes(
        name=order[0].name,
        time_s=np.concatenate([track.time_s for track in order]),
        lon=np.concatenate([(track.lon + 180.0) % 360.0 - 180.0 for track in order]),
        lat=np.concatenate([track.lat for track in order]),
        ele_m=np.concatenate([track.ele_m for track in order]),
        part=parts.astype(np.int32),
        group=parts.astype(np.int32),
        problems=tuple(problem for track in order for problem in track.problems),
    )
    return cleaned(fixes, source)
