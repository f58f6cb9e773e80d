"""The search itself behind the order of bars: a walk over states, compiled."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

F32 = NDArray[np.float32]
F64 = NDArray[np.float64]
I64 = NDArray[np.int64]


@njit(cache=True)
def cheapest_walk(
    heard: F32,
    silent: NDArray[np.bool_],
    expected: F32,
    starts: I64,
    follows: NDArray[np.bool_],
    filler_cost: F64,
    jump: float,
    leave: float,
    loop: float,
    uneven: float,
) -> tuple[float, I64]:
    """Walk through the states of the page at the lowest cost (Viterbi).

    Parameters
    ----------
    heard : ndarray, shape (frames, bins)
        Unit rows of the sound.
    silent : ndarray of bool, shape (frames,)
        Where the sound is silent.
    expected : ndarray, shape (states, bins)
        Unit rows of the written bars, end to end; zero where the page rests.
    starts : ndarray, shape (bars + 1,)
        First state of each bar, and the number of states.
    follows : ndarray of bool, shape (bars, bars)
        True at [a, b] where the page asks for b after a.
    filler_cost : ndarray, shape (frames,)
        Price of calling a frame music that is not in the score.
    jump, leave, loop, uneven
        Prices of a jump, of beginning, ending or going astray inside the page, of a repeat
        it asks for, and of each step off one state a frame.

    Returns
    -------
    float, ndarray of shape (frames,)
        Total cost; state in each frame, -1 in the filler.
    """
    frames, states, bars = heard.shape[0], expected.shape[0], starts.size - 1
    bar_of = np.empty(states, np.int64)
    for b in range(bars):
        bar_of[starts[b] : starts[b + 1]] = b
    has_sound = np.zeros(states, np.bool_)
    for s in range(states):
        has_sound[s] = expected[s].max() > 0.05
    # Bars that the page puts before each bar, the one printed before it left out.
    before = np.zeros(bars + 1, np.int64)
    for b in range(bars):
        before[b + 1] = before[b]
        for a in range(bars):
            if follows[a, b] and a != b - 1:
                before[b + 1] += 1
    asking = np.empty(before[bars], np.int64)
    at = 0
    for b in range(bars):
        for a in range(bars):
            if follows[a, b] and a != b - 1:
                asking[at] = a
                at += 1
    # 0 stay, 1 and 2 advance, 3 as the page asks, 4 jump, 5 out of the filler, 6 begin,
    # 7 advance by three
    code = np.zeros((frames, states), np.int8)
    asked = np.full((frames, bars), -1, np.int32)
    jumped = np.full(frames, -1, np.int32)
    filled = np.full(frames, -1, np.int32)
    old = np.full(states, np.inf)
    filler = np.inf
    for t in range(frames):
        # Cheapest bar end so far, for jumps and for the way into the filler.
        end_cost, end_bar = np.inf, -1
        if t > 0:
            for b in range(bars):
                price = old[starts[b + 1] - 1]
                if price < end_cost:
                    end_cost, end_bar = price, b
        jumped[t] = end_bar
        likeness = np.dot(expected, heard[t])
        new = np.full(states, np.inf)
        for s in range(states):
            b = bar_of[s]
            best, which = old[s] + uneven, 0
            inner = s > starts[b]
            linked = inner or (b > 0 and follows[b - 1, b])
            if linked and s > 0 and old[s - 1] < best:
                best, which = old[s - 1], 1
            linked = s - 2 >= starts[b] or (s >= 2 and b > 0 and follows[b - 1, b])
            if linked and s >= 2 and bar_of[s - 2] >= b - 1 and old[s - 2] + uneven < best:
                best, which = old[s - 2] + uneven, 2
            linked = s - 3 >= starts[b]
            if linked and old[s - 3] + 2 * uneven < best:
                best, which = old[s - 3] + 2 * uneven, 7
            if not inner:
                for k in range(before[b], before[b + 1]):
                    price = old[starts[asking[k] + 1] - 1] + loop
                    if price < best:
                        best, which = price, 3
                        asked[t, b] = asking[k]
                if end_cost + jump < best:
                    best, which = end_cost + jump, 4
                back = 0.0 if b == 0 and filled[t - 1] == -2 else leave
                if t > 0 and filler + back < best:
                    best, which = filler + back, 5
                if t == 0:
                    best, which = (0.0 if b == 0 else leave), 6
            if best == np.inf:
                continue
            if silent[t]:
                cost = 0.3 if has_sound[s] else 0.0
            elif not has_sound[s]:
                cost = 0.3
            else:
                cost = 1.0 - likeness[s]
            new[s] = best + cost
            code[t, s] = which
        stay = filler_cost[t]
        if t == 0:
            filler, filled[t] = stay, -2
        else:
            entry = end_cost + (0.0 if end_bar == bars - 1 else leave)
            last_end = old[states - 1]
            source = end_bar
            if last_end < entry:
                entry, source = last_end, bars - 1
            if entry < filler:
                filler, filled[t] = entry + stay, source
            else:
                filler, filled[t] = filler + stay, (-2 if filled[t - 1] == -2 else -1)
        old = new
    # The sound may stop anywhere, but the end of the score is the likeliest place.
    best, at = filler, -1
    for s in range(states):
        price = old[s] + (0.0 if s >= states - 2 else leave)
        if price < best:
            best, at = price, s
    out = np.empty(frames, np.int64)
    s = at
    for t in range(frames - 1, -1, -1):
        out[t] = s
        if s < 0:
            if filled[t] >= 0:
                s = starts[filled[t] + 1] - 1
            continue
        which = code[t, s]
        if which == 1 or which == 2:
            s -= which
        elif which == 7:
            s -= 3
        elif which == 3:
            s = starts[asked[t, bar_of[s]] + 1] - 1
        elif which == 4:
            s = starts[jumped[t] + 1] - 1
        elif which == 5:
            s = -1
    return best, out
