from __future__ import annotations

import itertools
import random
from functools import cache

from hypothesis import given, settings
from hypothesis import strategies as st

from routing.specs.guillotine import BestSheet, Part, first_fit, reachable

sizes = st.tuples(st.integers(3, 30), st.integers(3, 20))


def check_cutting(part: Part, kinds: list[tuple[int, int]]) -> None:
    """A cutting's halves make up the whole, and each piece lies in a part of its own size."""
    if part.item is not None:
        assert (part.along, part.across) == kinds[part.item]
        assert part.first is None
    elif part.first is not None and part.second is not None:
        if part.axis == "along":
            assert part.first.along + part.second.along == part.along
            assert part.first.across == part.second.across == part.across
        else:
            assert part.first.across + part.second.across == part.across
            assert part.first.along == part.second.along == part.along
        assert min(part.first.along, part.first.across, part.second.along, part.second.across) > 0
        check_cutting(part.first, kinds)
        check_cutting(part.second, kinds)


@given(st.lists(st.integers(1, 40), min_size=1, max_size=4), st.integers(0, 120))
def test_reachable_sums(wanted: list[int], room: int) -> None:
    counts = [range(room // size + 1) for size in wanted]
    if sum(len(one) for one in counts) > 60:
        return
    sums = {sum(n * size for n, size in zip(picked, wanted, strict=True)) for picked in itertools.product(*counts)}
    assert reachable(wanted, room) == sorted(one for one in sums if one <= room)


def best_by_trying_everything(sheet: tuple[int, int], kinds: list[tuple[int, int]], values: list[float]) -> float:
    """The plain recursion over every whole-number cut: slow, and independent of the one under test."""

    @cache
    def best(along: int, across: int) -> float:
        top = max((v for (a, c), v in zip(kinds, values, strict=True) if a <= along and c <= across), default=0.0)
        for at in range(1, along // 2 + 1):
            top = max(top, best(at, across) + best(along - at, across))
        for at in range(1, across // 2 + 1):
            top = max(top, best(along, at) + best(along, across - at))
        return top

    return best(*sheet)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(sizes, st.floats(0.1, 9)), min_size=1, max_size=4), st.integers(10, 34), st.integers(8, 26))
def test_the_recursion_finds_the_best_cutting(kinds: list, along: int, across: int) -> None:
    shapes, values = [kind[0] for kind in kinds], [kind[1] for kind in kinds]
    search = BestSheet((along, across), shapes)
    found = search.solve(values)
    assert abs(found - best_by_trying_everything((along, across), shapes, values)) < 1e-9
    part = search.pattern()
    check_cutting(part, shapes)
    assert abs(sum(values[item] for item in part.items()) - found) < 1e-9


@given(
    st.lists(sizes, min_size=1, max_size=5),
    st.lists(st.integers(0, 4), max_size=30),
    st.sampled_from(["along", "across", "largest"]),
)
def test_first_fit_cuts_every_piece_once(kinds, picks, split) -> None:
    items = [pick % len(kinds) for pick in picks]
    parts = first_fit((40, 30), kinds, items, split=split)
    assert sorted(item for part in parts for item in part.items()) == sorted(items)
    for part in parts:
        assert (part.along, part.across) == (40, 30)
        check_cutting(part, kinds)


def test_what_is_left_out_becomes_one_large_left_over() -> None:
    part = first_fit((40, 30), [(20, 30)], [0, 0], split="along")[0]
    assert list(part.left_over()) == []
    assert [spot[2:] for spot in part.without({0: 1}).left_over()] == [(20, 30)]
    assert list(part.without({0: 2}).left_over()) == [(0, 0, 40, 30)]


def test_left_overs_and_pieces_make_up_the_sheet() -> None:
    rng = random.Random(5)
    for _ in range(50):
        kinds = [(rng.randint(5, 20), rng.randint(5, 15)) for _ in range(4)]
        for part in first_fit((60, 40), kinds, [rng.randrange(4) for _ in range(12)], split="largest"):
            pieces = sum(kinds[item][0] * kinds[item][1] for item in part.items())
            left = sum(along * across for _, _, along, across in part.left_over())
            assert pieces + left == 60 * 40
