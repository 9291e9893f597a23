"""Compiled code that is read back from the cache is linked by name: no two kinds may share one."""

from welkinwell.harvesters.kinds import KINDS


def test_the_sums_of_every_kind_have_names_of_their_own():
    names = []
    for listed in KINDS.values():
        wiring = listed.assembled().kind.wiring()
        names += [
            sums.py_func.__name__ for sums in (wiring.gather, wiring.add_flows, wiring.carry, wiring.assemble)
        ]
    assert len(names) == len(set(names)) == 4 * len(KINDS)


def test_the_slopes_of_every_kind_have_names_of_their_own():
    found = [listed.assembled().kind.fill_flows.py_func for listed in KINDS.values()]
    names = [(function.__module__, function.__qualname__) for function in found]
    assert len(set(names)) == len(names)
