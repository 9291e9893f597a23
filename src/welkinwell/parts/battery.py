"""A battery: a store between a floor and full, with losses on the way in, on the way out and with time."""

from __future__ import annotations

from typing import Final

from welkinwell.compiled import njit

HOUR: Final = 3600.0  # s


@njit(cache=True, nogil=True)
def battery_hours(supply, load, capacity, floor, kept, into, out, rate, short, stored, spilled):
    """Run a battery through a record twice, so that the second round starts as the first ends.

    supply, load: direct current by hour, shape (hours,) [W]; capacity: of the battery [J]; floor: least it
    may hold [J]; kept: share of what it holds that is left after an hour [1]; into, out: efficiencies [1];
    rate: highest power in or out [W]; short, stored, spilled: filled, shape (hours,): direct current that is
    missing [J], charge at the end of the hour [J], sun that nothing takes [J]. Returns nothing. Our own
    balance.
    """
    store = capacity
    for _ in range(2):
        for hour in range(load.shape[0]):
            store = max(store * kept, floor)
            extra = (supply[hour] - load[hour]) * HOUR
            missing = 0.0
            lost = 0.0
            if extra >= 0.0:
                taken = min(extra, rate * HOUR, (capacity - store) / into)
                store += taken * into
                lost = extra - taken
            else:
                given = min(-extra, rate * HOUR, (store - floor) * out)
                store -= given / out
                missing = -extra - given
            short[hour] = missing
            stored[hour] = store
            spilled[hour] = lost
