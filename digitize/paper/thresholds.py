"""Every number by which paper is told from floor, room-wide, under the file that it is for.

Names end in their unit: ``MM``, ``PX``, ``ROWS``, ``DEG``; what has none of these is a share, a
ratio, a count, or the log of a ratio. Of a value with no source beside it the origin is an own
choice, made on the rendered photos that were looked at, never on those of the benchmarks' unseen
halves. What becomes of the edge where one is half as much, or twice, ``python -m tests.bench
thresholds`` says; RESULTS.md keeps it. How many rows or places are worked on at once, from which
nothing is told, stands where it is used.
"""

from typing import Final

import numpy as np

# beside.py
BESIDE_ACROSS_MM: Final = 1.0  # from place to place across the edge
# across, along
NEXT_MM: Final = 3.0
BESIDE_LEARNED_MM: Final = (9.0, 30.0)
PATCH_MM: Final = (3.0, 14.0)
BESIDE_WINDOW_MM: Final = 120.0  # along the edge, from which looks are learned
BESIDE_GRAIN_MM: Final = 1.0
# of a patch: L, a, b of 8 bits, log of grain
BESIDE_LEAST_SPREAD: Final = np.array([1.0, 0.7, 0.7, 0.07])
# a place this much nearer another part of the edge is that part's
OWN_SHARE: Final = 0.8
FOLDED_MM: Final = 1.5
FREEDOM: Final = 4
FURTHEST: Final = 4.0  # in units of the patches' scatter: further off it is another thing's
LEARNED_EVERY: Final = 5  # places along the edge
# Density of a thing that is neither: one in ten, and evenly over 256 levels of L, 100 of a and b,
# and 4 of log grain; in log, less the constant that _log_density omits.
BESIDE_STRAY_LOG: Final = -15.2
# A border of hue, in log of a ratio of colours, and how much of it may be the sun's own; one of
# light is of 1.3 to 4 times.
HUE_NEAR_MM: Final = (2.0, 4.0)
HUE_FAR_MM: Final = (12.0, 24.0)
HUE_WINDOW_MM: Final = 40.0
LEAST_HUE: Final = 0.12
LIGHT: Final = (0.25, 1.4)
RIVAL_SHARE: Final = 0.5
DARKEST: Final = 1e-3
# of a patch, of the patches learned from
LEAST_SEEN: Final = 0.7
LEAST_LEARNED: Final = 0.2

# burnt.py
BURNT_PIXEL_MM: Final = 2.0
PENCIL_MM: Final = 6.0  # what is darker and narrower is drawn on what is burnt out
WITHIN_MM: Final = 8.0  # of the edge: nearer, its own blur shows
BURNT_RIM_MM: Final = (6.0, 12.0)  # from what is burnt out
# light 1.3 times less than what burns out; a patch of sun is twice the shade
STILL_BRIGHT: Final = 225
BY_DEGREES: Final = 0.9
LEAST_RIM_MM: Final = 40.0
JUST_WITHIN_MM: Final = (3.0, 7.0)

# carried.py
ROUND_CARD_MM: Final = 6.0
NEAR_CARD_MM: Final = 24.0
CARRIED_ACROSS_MM: Final = 40.0
MOST_TURN_DEG: Final = 4.0
CARRIED_ASIDE: Final = 0.02
LONGEST_BRIDGE_MM: Final = 400.0
CARRIED_LED_ALONE_MM: Final = (60.0, 30.0)  # of edge on one side, by which alone it is carried on
JOINED_MM: Final = 60.0  # of edge beyond what is not seen, which it may meet
CARRIED_LEAST_LIKELY: Final = 0.5
CARRIED_LEAST_KNOWN: Final = 0.3
PLAINLY: Final = 1.0
MOST_LOST_MM2: Final = 150.0
EACH_MM: Final = 8.0  # of a line to a corner, along which colours step as beside it

# corners.py
TURN_OVER_MM: Final = 12.0
LEAST_TURN_DEG: Final = 25.0
ROUND_MM: Final = 9.0
CORNERS_LEARNED_MM: Final = 22.0
CORNERS_GAP_MM: Final = 3.0
CORNERS_LEAST_SPREAD: Final = 1.4  # grey levels of L, a, b
TOLD_SHARE: Final = 0.98  # of the places it was learned from that a colour must tell rightly
CORNERS_STRAY_LOG: Final = -12.0
LEAST_APART_LOG: Final = 1.0  # of the means of what is paper and what is floor, to tell a corner
SMOOTH_MM: Final = 0.5
CORNERS_MOST_LIKELY: Final = 4.0
FEWEST_PIXELS: Final = 200
FLECK_MM: Final = 6.0
SLIVER_MM: Final = 0.7
POINT_MM: Final = 2.0
# a corner of 40 degrees or more keeps its tip: 1 / sin(20 degrees)
SPIKE_MM: Final = 3.0
MITRE: Final = 3.0
FEWEST_ALONG: Final = 4  # places along a line to a tip
LED_MM: Final = 16.0  # of the side, whose step in colour has to go on; so much of it or more
GOES_ON: Final = (0.7, 1.5)

# cut.py
SHRINK: Final = 2  # the cut's pixels, in the coarse raster's
LEAST_AREA_MM2: Final = 100.0 * 100.0
GLOW_MM: Final = 8.0  # round what is burnt out
BURNT_FLOOR: Final = 0.4  # of what is seen: more is no patch of sun
CUT_RIM_MM: Final = 60.0  # inside the picture's edge
BESIDE_CARD_MM: Final = 4.0
# on either side of a card's border, whose step in colour is not the paper's
CARD_EDGE_MM: Final = 2.5
# of the picture each way from its middle: where the paper is looked for first
MIDDLE_SHARE: Final = 0.22
LEAST_OF_MIDDLE: Final = 0.15
CUT_ROUNDS: Final = 4
MOST_STARTS: Final = 6
AGREED: Final = 0.85
LOOKED_AT_MM: Final = 12.0
AGREED_THOUGH_IT_GREW: Final = 0.5
# of a cut's border, in what is burnt out; of its size, by which it is larger if white is paper's
THROUGH_WHITE: Final = 0.02
GAINED: Final = 0.02
# surely paper, so far inside; surely not, so far outside
CORE_MM: Final = 10.0
BEYOND_MM: Final = 16.0
CLOSING_MM: Final = 16.0
CUT_OPENING_MM: Final = 24.0
NARROWEST_MM: Final = 40.0
CUT_BORDER_COST: Final = 1.2
CUT_LEAST_COST: Final = 0.05
CUT_BORDER_STEP: Final = 0.3

# dents.py
DENTS_LED_MM: Final = 30.0  # of straight edge on either side
DEEP_MM: Final = 3.0
DENTS_SOON_MM: Final = 16.0
LONGEST_MM: Final = 200.0
DENTS_ASIDE: Final = 0.02  # of its length, beside what a straight side's points may lie off
DENTS_LED_ALONE_MM: Final = 80.0  # where it does not come back: a short line points badly
LONGEST_ASIDE_MM: Final = 500.0
FARTHEST_MM: Final = 40.0
# an edge that goes on beside its line, and no corner
BESIDE_DEG: Final = 12.0
LEAST_BESIDE_MM: Final = 30.0
CLEAR_MM: Final = 10.0  # of where it leaves: a thing begins there

# divide.py
DIVIDE_STEPS: Final = 80

# edge.py
PATH_REACH_MM: Final = 4.0
SPLIT_REACHES_MM: Final = (2.5, 2.0)
EDGE_WINDOW_MM: Final = 4.0  # of colour on either side of a step
ALONG: Final = 5  # steps along the edge over which a step in colour is averaged
NOISE: Final = 2.0  # grey levels (L, a, b) that are no step
USUAL_STEP: Final = 4.0
LOOKS_A_MM: Final = 0.02
LEAP_A_MM: Final = 0.15
MOST_LEAP_MM: Final = 2.0
HERE_MM: Final = 1.4
LEAST_STEP: Final = 0.8
PLAIN_STEP: Final = 3.0
EDGE_LEAST_LIKELY: Final = 0.5
EDGE_LEAST_KNOWN: Final = 0.3
LEAST_TOLD: Final = 3.0  # log of a ratio: twenty to one
LEAST_USUAL: Final = 6.0  # the same, of what lies between the edge and its straight line
# where the edge leaves its straight line: oftener for a thing than for a notch
TOLD_ASIDE: Final = 8.0
BESIDE_MM: Final = (3.0, 11.0)
WINDOW_ALONG_MM: Final = 40.0
WHOLLY: Final = 0.95
EDGE_GAP_MM: Final = 1.5
# In log of a ratio, between what looks like neither floor nor paper, 1.6, and what does, 4.
NEITHER: Final = 2.8
ON_LINE_MM: Final = 1.0
JUTS_OUT_MM: Final = 24.0  # of a burnt-out sheet: wide for a tear, narrow for a piece of paper
SHORTEST_MM: Final = 20.0
EDGE_SOON_MM: Final = 50.0

# looks.py
TEXTURE_MM: Final = 12.0
# hue, hue, texture, brightness: cells, in log units
LOOKS_STEPS: Final = np.array([0.05, 0.05, 0.35, 0.3])
MOST_CELLS: Final = np.array([40, 40, 24, 20])
APART: Final = np.array([5, 5, 0, 0])  # cells: more than one sheet's hue is wide
SCATTER_CELLS: Final = 1.0
# the same thing, bluer or yellower by a tenth
LIT_SHARE: Final = 0.25
LIT_CELLS: Final = (0.8, 1.5, 0.5)
# share of a cell in which things lie that are neither; common practice, no source
STRANGE: Final = 1e-4
LEAST: Final = 1e-6
# no single place says more than this (log of a ratio)
LOOKS_MOST_LIKELY: Final = 3.0
BY_LIGHT: Final = 1.0
BURNT: Final = 250

# passed.py
# a line ends at the edge; so much of it tells its direction
AT_EDGE_MM: Final = 4.0
PASSED_LED_MM: Final = 10.0
# where it would go on; nearer, the edge itself is blurred
PAST_MM: Final = (2.5, 12.0)
PASSED_STEP_MM: Final = 0.5
# its own width, and the ground beside it
HALF_LINE_MM: Final = 0.8
FLANK_MM: Final = (1.6, 3.2)
# as on the paper, at so many of the places
AS_DARK: Final = 0.5
AS_OFTEN: Final = 0.8
# where the ground is lighter or darker
ALL_ALONG: Final = 0.95
FEWEST_LIT: Final = 3  # lines, or ends of one: what lies over the edge has two
SAME_HUE: Final = 10.0  # grey levels of a and b: the sun is yellower than the sky
PLAINLY_DARK: Final = 10.0  # grey levels of L: a floor's own streaks are as dark as a faint line
SAME_GROUND: Final = 6.0  # grey levels of L, a and b together, beside the ground's own scatter
NAMED_MM: Final = 20.0  # of the edge on either side

# settle.py
SETTLE_PIXEL_MM: Final = 1.5
# How far the cut may be off: it takes a board for paper sooner than paper for floor; and how far a
# card goes on beneath the paper.
OUTWARD_MM: Final = 16.0
INWARD_MM: Final = 60.0
UNDER_MM: Final = 60.0
SETTLE_GAP_MM: Final = 3.0  # beside the border, of which nothing is learned
# what is learned from how far away
NEAR_MM: Final = 18.0
FAR_TIMES: Final = 4
FAR_SHARE: Final = 0.05
ALL_SHARE: Final = 1e-3
MODEL_SHRINK: Final = 4
SETTLE_GRAIN_MM: Final = 1.0
GRAIN_STEPS: Final = 10.0
SETTLE_LEAST_SPREAD: Final = np.array([1.4, 1.0, 1.0, 1.4])  # L, a, b of 8 bits, and grain
# pixels that look like neither
STRAY_FLOOR: Final = 0.1
STRAY_PAPER: Final = 0.02
SETTLE_STRAY_LOG: Final = -12.0
# log of how much likelier a card than paper is what lies nearer to its corners that were found than
# to others, and by none: white paper must not grow over it, and a coloured one has to come back
SEEN_LOG: Final = 8.0
# a pixel says less than its look: its neighbours say it too
SETTLE_MOST_LIKELY: Final = 4.0
A_WORD: Final = 0.35
SETTLE_BORDER_COST: Final = 1.5
SETTLE_LEAST_COST: Final = 0.05
SETTLE_BORDER_STEP: Final = 8.0
SETTLE_ROUNDS: Final = 5
SETTLED_MM2: Final = 60.0
SETTLE_OPENING_MM: Final = 2.0
BINS: Final = 32
BIN: Final = 8
RARE: Final = 1e-9

# steps.py
BESIDE_LINE_MM: Final = (0.75, 2.25)  # on either side of a line
STEP_EVERY_MM: Final = 0.5

# straight.py
STRAIGHT_STEP_MM: Final = 2.0  # from point to point of an edge
STRAIGHT_LED_MM: Final = (60.0, 30.0, 16.0)  # of edge on either side, by which it is carried on
STRAIGHT_MM: Final = 1.2  # so far off a straight line a side's points may lie
LEAST_CORNER_DEG: Final = 25.0
