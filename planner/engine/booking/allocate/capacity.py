"""Which options use which rows: options of one site-day, need and part share a pattern of rows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from planner.engine.booking.allocate.implied import needed_rows
from planner.engine.booking.allocate.options import Options
from planner.engine.booking.allocate.rows import Row, siteday_rows
from planner.engine.booking.problem import Problem

Ints = NDArray[np.int32]
Floats = NDArray[np.float64]

_Lookup = dict[tuple[int, str, int, int], int]


@dataclass(slots=True)
class Capacity:
    """The rows, their caps, and the rows that each option's minutes count in.

    ``pattern[o]`` is the pattern of option ``o``; pattern ``p`` uses the rows
    ``rows_of[first[p]:first[p + 1]]``, each with the option's whole minutes, or these times
    ``factor`` where it is given.
    """

    rows: list[Row]
    cap: Floats
    pattern: Ints
    first: NDArray[np.int64]
    rows_of: Ints
    factor: Floats | None = None

    def pattern_prices(self, prices: Floats) -> Floats:
        """What a minute costs under ``prices`` (by row), one value a pattern."""
        each = prices[self.rows_of] if self.factor is None else prices[self.rows_of] * self.factor
        sums = np.concatenate([[0.0], np.cumsum(each)])
        found: Floats = sums[self.first[1:]] - sums[self.first[:-1]]
        return found

    def use(self, load: Floats) -> Floats:
        """What the rows hold, where the patterns hold ``load`` minutes."""
        spread = np.repeat(load, np.diff(self.first))
        if self.factor is not None:
            spread *= self.factor
        return np.bincount(self.rows_of, weights=spread, minlength=len(self.cap)).astype(np.float64)

    def only(self, needed: NDArray[np.bool_]) -> Capacity:
        """The same with some of the rows."""
        number = (np.cumsum(needed) - 1).astype(np.int32)
        stays = needed[self.rows_of]
        upto = np.concatenate([[0], np.cumsum(stays)])
        return Capacity(
            rows=[row for row, keep in zip(self.rows, needed, strict=True) if keep],
            cap=self.cap[needed],
            pattern=self.pattern,
            first=upto[self.first],
            rows_of=number[self.rows_of[stays]],
            factor=None if self.factor is None else self.factor[stays],
        )


def build_capacity(problem: Problem, options: Options) -> Capacity:
    """Build the rows of every site-day that others do not imply, and all options' patterns."""
    full = all_rows(problem, options)
    people = len(problem.network.requests)
    return full.only(needed_rows(options, full.pattern, full.first, full.rows_of, full.cap, people))


def all_rows(problem: Problem, options: Options) -> Capacity:
    """Build all rows of every site-day and the patterns of all options."""
    requests = len(problem.network.requests)
    patterns, pattern_of = _distinct(_pattern_keys(problem, options, requests))
    rows: list[Row] = []
    lookup: _Lookup = {}
    longest = _longest(problem, options)
    for g, (features, skills) in _classes_in_use(problem, patterns).items():
        for row in siteday_rows(problem, problem.sitedays[g], features, skills, longest[g]):
            lookup[row.siteday, row.kind, row.need, row.part] = len(rows)
            rows.append(row)
    lists = [_rows_of(problem, lookup, tuple(int(v) for v in key)) for key in patterns]
    first = np.concatenate([[0], np.cumsum([len(item) for item in lists])]).astype(np.int64)
    return Capacity(
        rows=rows,
        cap=_caps(problem, options, rows, requests),
        pattern=pattern_of,
        first=first,
        rows_of=np.array([row for item in lists for row in item], dtype=np.int32),
    )


def _caps(problem: Problem, options: Options, rows: list[Row], requests: int) -> Floats:
    """The rows' minutes; a reserve never forbids care, only bookings beside it (rule 8)."""
    care = np.zeros((len(problem.sitedays), 2))
    for job in range(requests, len(options.unbooked)):
        span = slice(options.first[job], options.first[job + 1])
        item = problem.network.care[job - requests]
        for g in np.unique(options.siteday[span]):
            care[g, 0] += item.minutes
            care[g, 1] += item.minutes if item.technician else 0
    return np.array(
        [
            max(row.minutes, care[row.siteday, row.need]) if row.kind == "reserve" else row.minutes
            for row in rows
        ],
        dtype=np.float64,
    )


def _pattern_keys(problem: Problem, options: Options, requests: int) -> Ints:
    """(siteday, part, feature class, skill class, counts against the reserve, care) an option."""
    reserve = np.array([siteday.reserve > 0 for siteday in problem.sitedays], dtype=np.bool_)
    rework = np.array([item.rework for item in problem.network.requests], dtype=np.bool_)
    is_care = options.request >= requests
    who = np.where(is_care, 0, options.request)
    care = np.where(is_care, options.request - requests, -1)
    if requests:
        plain = ~rework[who] | is_care
        feature = np.where(is_care, -1, problem.needs.feature_of[who])
    else:
        plain, feature = is_care, np.full(len(who), -1)
    held = reserve[options.siteday] & plain if len(who) else is_care
    return np.column_stack(
        [options.siteday, options.part, feature, options.skill, held, care]
    ).astype(np.int32)


def _distinct(keys: Ints) -> tuple[Ints, Ints]:
    """The distinct keys in order, and the place of each key among them."""
    packed = np.zeros(len(keys), dtype=np.int64)
    for column in keys.T if len(keys) else ():
        low = int(column.min())
        packed *= int(column.max()) - low + 1
        packed += column - low
    _, at, pattern = np.unique(packed, return_index=True, return_inverse=True)
    return keys[at], pattern.reshape(-1).astype(np.int32)


def _longest(problem: Problem, options: Options) -> Ints:
    """The longest thing that may be planned on each site-day, in minutes."""
    longest = np.ones(len(problem.sitedays), dtype=np.int32)
    np.maximum.at(longest, options.siteday, options.minutes)
    return longest


def _classes_in_use(problem: Problem, patterns: Ints) -> dict[int, tuple[list[int], list[int]]]:
    found: dict[int, tuple[set[int], set[int]]] = {}
    for g, _, feature, skill, _, _ in patterns:
        features, skills = found.setdefault(int(g), ({0}, {0}))
        features.add(max(0, int(feature)))
        skills.add(max(0, int(skill)))
    return {g: (sorted(a), sorted(b)) for g, (a, b) in sorted(found.items())}


def _rows_of(problem: Problem, lookup: _Lookup, key: tuple[int, ...]) -> list[int]:
    g, part, feature, skill, held, care = key
    needs = problem.needs
    if care >= 0:
        item = problem.network.care[care]
        station = problem.index.station[item.station]
        features = [k for k in range(len(needs.features)) if needs.station_ok[k, station]]
        skills = [0] if item.technician else []
        joint = bool(skills)
    else:
        joint = True
        features = [k for k, words in enumerate(needs.features) if words <= needs.features[feature]]
        skills = [k for k, words in enumerate(needs.skills) if words <= needs.skills[skill]]
    wanted = [(g, "station", need, p) for need in features for p in (part, 2)]
    wanted += [(g, "technician", need, p) for need in skills for p in (part, 2)]
    if joint:
        wanted += [(g, "joint", 0, p) for p in (part, 2)]
    if held:
        wanted.append((g, "reserve", 0, 2))
        if skills:
            wanted.append((g, "reserve", 1, 2))
    return [lookup[one] for one in wanted if one in lookup]
