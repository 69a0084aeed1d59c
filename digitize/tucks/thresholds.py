"""Every number by which tucks are told and measured, room-wide, under the file that it is for.

Names end in their unit: ``MM``, ``POINTS``, ``TURN`` (radians), ``DEG``; what has none of these is
a share, a ratio or a count. Of a value with no source beside it the origin is an own choice, made
on the drawn panels and rendered photos that were looked at, never on those of the benchmarks'
unseen halves. What becomes of tucks and laps where one is half as much, or twice, ``python -m
tests.bench thresholds`` says; RESULTS.md keeps it. A number that is worked out from one here stands
where it is used.
"""

import math
from typing import Final

import numpy as np

# breaks.py
SAME_LINE_MM: Final = 8.0
ALIKE: Final = math.radians(10.0)  # a turn that weighs as much as a mm of depth, in matching lines
NEARER: Final = 0.1  # mm of depth that a mm across weighs
MOST_TURN: Final = math.radians(40.0)
DEPTH_SIGMA_MM: Final = 0.2  # how well a line's two parts agree in depth
EDGE_SIGMA_MM: Final = 0.25  # by which a pencil led over an edge stops short of it, or begins late
LINE_SIGMA_MM: Final = 0.03  # added to what the lines' own fits say

# crease_ends.py
# of a crease carried on
LEAST_TO_BEND_MM: Final = 15
MOST_ASIDE_MM: Final = 5.0
MOST_LOST_MM: Final = 15.0  # of a crease, at its tip
SEEN_OVER_MM: Final = 3.0
LOOK_STEP_MM: Final = 0.1
HIDDEN_MM: Final = 8.0
# A crease sets in over so much of its way; its tip is where a quarter of its darkness is there.
SETS_IN_MM: Final = 2.0
TIP_SHARE: Final = 0.25
# to either side of where it seems to be
TIP_OFF_MM: Final = 4.0
TIP_WINDOW_MM: Final = 8.0
ON_CREASE_MM: Final = (-0.2, 0.0, 0.2)
OFF_CREASE_MM: Final = (-2.0, -1.5, -1.2, 1.2, 1.5, 2.0)

# creases.py
FAINT_SHARE: Final = 0.6  # of the usual weight of marks on this paper
PALE: Final = 0.3  # darkness, of the palest cut
SHADED: Final = 0.5  # darkness; a crease shades the paper by less, a cut lets no light back
STRAIGHT_SHARE: Final = 0.02
# a faint trace may run on a little way along a line it meets
HOOK_POINTS: Final = 8
HOOK_WEIGHT: Final = 0.25
CREASE_GAP_MM: Final = 40.0
CREASE_OVERLAP_MM: Final = 12.0
CREASE_TURN: Final = np.radians(8.0)
PARTNER_TURN: Final = np.radians(15.0)
CREASES_APART: Final = 0.1  # of the depth, between a fold's two creases
TRUNK_GAP_MM: Final = 4.0
TRUNK_WIDER_MM: Final = 0.3
TRUNK_POINTS: Final = 25
JUNCTION_POINTS: Final = 8  # of two marks, on either side of where they part
CREASES_ASIDE_MM: Final = 0.3
LEAST_ONWARD_MM: Final = 0.1
JOG_SIGMA_MM: Final = 0.05
FADED_MM: Final = 90.0
LEAST_SLANT: Final = 0.7  # sine between a crease and the edge it runs out to
LINE_END_MM: Final = 3.0

# ends.py
AT_CUT_MM: Final = 2.5
WIDEST_LAP_MM: Final = 45.0
LEAST_TURN: Final = np.radians(25.0)
FIRST_DEPTH_MM: Final = 3.0
ONWARD_POINTS: Final = 30
LED_POINTS: Final = 22
HOOK_MM: Final = 3.0  # of a line's end
END_SIGMA_MM: Final = 0.22  # where a pencil line ends

# gape.py
GAPE_REACH_MM: Final = 4.0
GAPE_APART: Final = 8  # of so many gapes one is looked at first
GAPE_STEP_MM: Final = 0.1
GAPE_NEAR_MM: Final = 1.0  # the cut's middle is at most so far from where it was traced
GAPE_CLEAR_MM: Final = 2.2  # of the other mark
DEPTH_STEP_MM: Final = 1.0
GAPE_ROWS: Final = 5
LEAST_DEPTH_MM: Final = 5.0
FEWEST: Final = 10
BLUR_MM: Final = np.arange(0.3, 2.01, 0.05)  # how wide a closed slit looks
MOST_OFF_MM: Final = 0.5  # that a width counts as being off: a line beside the slit widens it there
# Half of a chi-square of one degree that one closed slit in a hundred exceeds.
GAPE_PLAIN: Final = 6.63 / 2

# lap_lines.py
LAP_LINES_SHORTEST_MM: Final = 20.0  # of a slit beside which one is sought
LAP_LINES_WIDEST_MM: Final = 120.0  # a lap: more is taken up by several tucks
LAP_LINES_INNER: Final = 0.3  # of the slit's length, from where on the two stand apart
BESIDE_CUT_MM: Final = 2.2  # from a slit, where its own darkness and shade are
LAP_LINES_OTHER_MM: Final = 3.0  # from a way, where ways are others
POWERS: Final = (1.0, 1.3, 1.6, 2.0)  # of the depth, by which laps grow
# stretches that each show it; at least so much of what the whole does
LAP_LINES_PARTS: Final = 3
EVENLY: Final = 0.3
SETTLED_MM: Final = 0.8  # to either side of a way, where its pencil is
# of the place of a mark too faint to be traced; an own estimate
LAP_LINES_SOUGHT_SIGMA_MM: Final = 0.3
# of a mark that lies on the way, how near and with how much of it
ALONG_MM: Final = 1.5
MOSTLY: Final = 0.8
# From a lap line, where lines end that go on there: two sigmas of both places, 0.35 and 0.3 mm.
ENDS_AT_MM: Final = 0.9

# laps.py
STATION_STEP_MM: Final = 10.0
LAPS_LEAST_LAP_MM: Final = 1.2  # closer than that, the two marks run into one
LEAST_BREAK_MM: Final = 0.5  # a break that shows
# less is not slit for; more shows beside the cut
UNSEEN_MM: Final = 1.1
UNSEEN_SIGMA_MM: Final = 0.6
DEEP_SHARE: Final = 0.5  # of a tuck's length: at less depth a large lap is as small
CREASE_SIGMA_MM: Final = 0.08  # added to what the marks' own fits say
# Of a hidden crease that no line bears out, along which light may show some way off it.
UNBORNE_SIGMA_MM: Final = 0.5
# Of a break that no mark and no other break bears out; and how laps over their depths may grow.
LONE_SIGMA_MM: Final = 0.6
LAPS_LEAST_GROWN: Final = 0.9
MOST_GROWN: Final = 2.0
# laps whose two marks are partly seen as one
CLOSE_MM: Final = 2.2
CLOSE_SIGMA_MM: Final = 0.1
AT_LAP_LINE_SIGMA_MM: Final = 0.12  # where a line ends at a lap line, which it was drawn up to
# A lap line's middle lies half of its width beyond the edge that the pencil was led along. The flap
# covers the paper up to its edge, so a mark beside it begins there, and its middle is half of its
# width away, whatever part of a worn tip touches. A round tip of radius r that leans on an edge as
# high as the paper is thick, t, touches sqrt(2 r t) beyond it: 0.28 mm for 0.4 mm on 0.1 mm of
# paper, which is half of the 0.5 to 0.6 mm such a tip marks. It is less where the tip gets beneath
# a flap that lifts: the sigma has a quarter beyond at one of it, none beyond at two.
# of a lap line's width
BEYOND_EDGE: Final = 1 / 2
BEYOND_EDGE_SIGMA: Final = 1 / 4
# by which a lap line strays from the edge, as the benchmark ``marks`` has it
HAND_SIGMA_MM: Final = 0.15
FEWEST_TO_MEET: Final = 3  # stations along two creases, to tell where these meet
FEWEST_STEADY: Final = 20  # places along a mark, to tell how steadily it was drawn
SAME_LAP_MM: Final = 1.2  # a break further from the lap line is of some other line
# a lap that falls by so much with the depth; how far that tells
BACK_MM: Final = 0.4
LAPS_ASIDE_MM: Final = 20.0

# lone_breaks.py
LONE_BREAKS_LEAST_GAP_MM: Final = 2.0
LONE_BREAKS_ASIDE_MM: Final = 30.0  # of the paper looked at, to either side of a break
INWARDS_MM: Final = 10.0  # of a crease, beyond the line that it parts
LINE_MM: Final = 2.0  # to either side of the line's way, where its own pencil is
MOST_SLANT: Final = math.tan(math.radians(20.0))
SHORT_MM: Final = (-0.5, 2.0)  # by which a line stops short of its crease
LONE_BREAKS_OTHER_MM: Final = 3.0  # from a break, where ways are others
# pencil as long as that so close by is what shows
LONE_BREAKS_BESIDE_MM: Final = 1.2
PENCIL_MM: Final = 8.0
SIGNATURE_MM: Final = 1.2  # to either side of a crease, what it looks like
# rows, columns from one to the next, share that lasts
BLOCK_ROWS: Final = 6
MOST_BEND: Final = 2
LONE_BREAKS_STEADY: Final = 0.3
APART_MM: Final = 15.0  # from one tuck to the next
MOST_SURE: Final = 0.75  # of what one break and one crease tell, which nothing bears out
NEAREST_EDGE_MM: Final = 8.0
FURTHEST_EDGE_MM: Final = 60.0  # a fold from further in parts the trim edge too
SLOPE_STEP_MM: Final = 0.5  # at the paper's edge

# look.py
TOUCH_MM: Final = 4.0  # of marks that start at one tip
CONVERGING_TURN: Final = np.radians(35.0)
# of the cut's length
LEAST_LAP_LINE: Final = 0.3
LEAST_LAP_REACH: Final = 0.6
WIDER_MM: Final = 0.2
DARKER: Final = 1.5

# onsets.py
ONSETS_STEP_MM: Final = 0.1
ONSETS_ACROSS_MM: Final = np.array([-0.3, -0.15, 0.0, 0.15, 0.3])
ONSETS_BESIDE_MM: Final = (-3.0, -2.0, 2.0, 3.0)
SMOOTH_MM: Final = 0.15
SHADE_MM: Final = 0.5  # over which shade is seen together
CERTAIN: Final = 4.0  # times what the paper varies by
HALO_MM: Final = 1.6  # of a cut, from its middle
ONSETS_CLEAR_MM: Final = 0.5  # beyond a cut's own half width
ONSETS_REACH_MM: Final = 8.0  # over which a line's beginning is sought
# of a line, to know how its pencil skips
KNOWN_MM: Final = 30.0
LEAST_KNOWN_MM: Final = 18.0
LEAST_BARE_MM: Final = 0.35
BEGIN_SIGMA_MM: Final = 0.35
PLAIN_SHARE: Final = 1.3  # of a line's darkness, half of which nothing paler than it has
FAINTEST: Final = 3.0  # times what the paper varies by
# Of a line's usual darkness, that a hand sets it down with; over which grain is all one.
SET_DOWN: Final = 0.25
GRAIN_MM: Final = 0.5
# over which faint pencil is seen together; that it skips
FAINT_MM: Final = 0.8
FAINT_SKIP_MM: Final = 3.0
# Of a line's usual darkness; a sharp end is so dark after so many sigmas of what is seen together.
FULL: Final = 0.8
SHARP: Final = 0.84
ASTRAY_MM: Final = (-0.8, -0.4, 0.0, 0.4, 0.8)
CLEAR_ASIDE_MM: Final = (-6.0, -3.5, 3.5, 6.0)
FACING_MM: Final = 2.0  # of depth, between a line's two ends at a crease
# over the depth; over that of a deeper one
STEEPEST_LAP: Final = 0.3
OUT_OF_PROPORTION: Final = 1.2
OPEN_MM: Final = 4.0
LEAST_OPEN_MM: Final = 0.6

# parting.py
BLOCK_MM: Final = 2.0
PARTING_ROWS: Final = 5
PARTING_STEP_MM: Final = 0.1
PARTING_REACH_MM: Final = 1.3  # of a profile to either side
# laps from which the marks are placed, and from which seen alone
PARTING_CLEAR_MM: Final = 2.0
ALONE_MM: Final = 2.8
FEWEST_ALONE: Final = 5
PARTING_LEAST_LAP_MM: Final = 0.5
TOGETHER_MM: Final = 1.0
SHIFTS: Final = np.arange(-0.3, 0.31, 0.1)
# than the place before
CLOSER_MM: Final = 1.2
FURTHER_MM: Final = 0.15
SCALES: Final = (0.5, 1.6)  # of a profile, over what it is further out
# cost of a mm off the expected lap, over the squared darkness of the marks
PARTING_STEADY: Final = 0.02
PLACE_SIGMA_MM: Final = 0.05

# partner.py
SAME_TIP_MM: Final = 4.0
PARTNER_OUTER: Final = 0.4  # of the depth, from where on two creases stand apart
PARTNER_SHORTEST_MM: Final = 40.0  # of a crease along which another is sought
PARTNER_WIDEST: Final = 0.25  # of the depth, from one crease to the other at the paper's edge
LEAST_APART_MM: Final = 2.0  # at the paper's edge
MOST_BOW_MM: Final = 6.0
PARTNER_STEP_MM: Final = 0.25
MOST_LAG: Final = 0.4  # of how far apart they end, by which two creases are closer halfway
TOGETHER: Final = 0.15  # of the depth, over which the two are seen as one
# of what is usual along the trace, all along and in parts
SEEN: Final = 0.4
SEEN_PART: Final = 0.2
PARTNER_PARTS: Final = 4
PARTNER_NEAR_MM: Final = 1.0
SEEN_OVER_ROWS: Final = 9
# of the place of a crease too faint to be traced; an own estimate
PARTNER_SOUGHT_SIGMA_MM: Final = 0.3

# pieces.py
PIECES_SHORTEST_MM: Final = 6.0  # of a piece
ALONG: Final = 0.9  # of a piece's length, that it gains in depth
# From one place to a deeper one: laps over their depths; the power by which laps grow with these.
PIECES_LEAST_GROWN: Final = 0.9
MOST_POWER: Final = 2.0
OFF_MM: Final = 0.8  # by which a hand's line, or a trace, leaves that
# from the tip and the edge, before which laps tell nothing
FIRST_MM: Final = 5.0
PIECES_ENDS_MM: Final = 0.1
FEW: Final = 16
OVERLAP_MM: Final = 3.0  # in depth, of two pieces of one line
LEAST_SEEN: Final = 0.3  # of the cut's length

# pivots.py
NEIGHBOUR: Final = 2.0  # a neighbouring tip is no further than this times the tucks' length
PIVOTS_FURTHEST_MM: Final = 1e5

# pressed.py
# of the paper looked at, to either side of a way
PRESSED_ACROSS_MM: Final = 40.0
PRESSED_STEP_MM: Final = 0.2
ROW_MM: Final = 0.5
SPREAD_MM: Final = 0.6  # of a crease's slopes
PRESSED_OUTER: Final = 0.3  # of a wedge's length, from where on its creases stand apart
# The same, where the tip is sought: from where a crease shows half of what it will. A row of the
# way counts for a crease from half of its mean on; with twice as much the tip is 8 mm too far in.
WHOLE: Final = 0.05
BREAK_SIGMA_MM: Final = 0.8  # of a break's width: each line ends up to 1 mm from its crease
TIP_STEP_MM: Final = 4.0  # from one place that a tip is sought at to the next
FURTHEST_SIGMAS: Final = 2.0  # of where the breaks have the tip
LEAN_MM: Final = 1.5  # that a crease ends aside of where lines say
# of a way that is the crease; that is none
PRESSED_NEAR_MM: Final = 0.7
PRESSED_OTHER_MM: Final = 3.0
LOUD: Final = 2.5  # sigmas of the paper, more than which is pencil
TENTH: Final = math.sqrt(2 * math.log(10))  # more than which one in ten of chance has
# one in so many
RARE: Final = math.sqrt(2 * math.log(100))
PRESSED_PLAIN: Final = math.sqrt(2 * math.log(1000))
PLACES: Final = 3  # that are looked at near a way, and differ
SIGMA_MM: Final = 0.3

# slits.py
EDGE_MM: Final = 4.0
SLITS_SHORTEST_MM: Final = 12.0
FOLD_AGREES_MM: Final = 1.5
CUT_MIN_PIECE_MM: Final = 8.0
SAME_BREAK_MM: Final = 8.0
UNSEEN_JUMP_MM: Final = 2.5  # of a line, over which it may have been traced on
# From a tip to where a mark that leaves it shows: a pencil is set down late, a hair is unseen.
MOST_LATE_MM: Final = 15.0
BRANCH_WEIGHT: Final = 0.6  # of the other branch: a lap line is only drawn
BETWEEN_SHARE: Final = 0.5
LEAST_BETWEEN_MM: Final = 6.0
# Darkness of what runs there, over the line's own: a trace is led over bare gaps of some mm too.
DRAWN_SHARE: Final = 0.25
CONTRAST_STEP_MM: Final = 0.3
LIKE_EITHER: Final = 0.5  # how sure a tuck is of whose marks nothing can be worked out
LONGEST_SHARE: Final = 0.4  # of a tuck, over the side of a square as large as the paper

# wedges.py
WEDGES_LEAST_GAP_MM: Final = 1.0
# than three quarters of a line's own skips
LONGER_THAN_SKIPS: Final = 2.0
FEWEST_SKIPS: Final = 4
SHORTEST_LINE_MM: Final = 6.0
LED_MM: Final = 5.0  # of a line, that tells which way it runs up to a break
FACING: Final = math.cos(math.radians(40.0))  # of a line's way, to where it goes on
ACROSS: Final = math.sin(math.radians(40.0))  # between a wedge and the lines it parts
# of a wedge, over its depth
NARROWEST: Final = 0.03
WEDGES_WIDEST: Final = 0.35
WEDGES_FURTHEST_MM: Final = 200.0  # between two lines that one fold parts
NEAREST_TIP_MM: Final = 5.0  # of a break
# how far lines end from a wedge's edges, and of its width
AT_EDGE_MM: Final = 1.2
AT_EDGE_SHARE: Final = 0.1
WEDGES_INNER: Final = 0.2  # of a wedge's width, to either side, that may have pencil
MOST_PENCIL_MM: Final = 1.5  # within a wedge

# which.py
WHICH_STEP_MM: Final = 0.5
WHICH_ENDS_MM: Final = 2.0  # of a mark that are not looked at
WHICH_CLEAR_MM: Final = 2.2  # of the other mark
WHICH_REACH_MM: Final = 3.0
WHICH_ACROSS_MM: Final = 0.1
WHICH_LIKE_SHARE: Final = 0.1  # of what is drawn, that tells a pen's width
MIDDLE_MM: Final = 0.9
PAPER_MM: Final = 2.0
WHICH_BESIDE_MM: Final = (0.9, 1.8)
WIDEST_WITHIN_MM: Final = 1.2  # of a mark, whose blurred edge still lies within what is beside it
FEWEST_PLACES: Final = 16
# of places along a mark, to smooth over
TOGETHER_STEPS: Final = 1.5
COURSE_STEPS: Final = 10.0
LEAST_DARKNESS: Final = 0.05
BENT_MM: Final = 1.0
STRAYED_MM: Final = 1.5
COMMON_POINTS: Final = 15
# Natural log odds of being the cut, and how much shade and wobble count at most: a logistic
# regression over 113 pairs of two makes, half the weight each: 75 of the benchmark ``marks``, seen
# half, and 38 of rendered photos. Its ridge, 0.1, is somewhat more than what predicts photos left
# out best. Either make alone leaves out what tells in the other: in one no cut is shaded, in the
# other many are no darker than pencil. Colour told nothing: an open cut has the floor's.
# of darkness
PER_SHADE: Final = 50.0
MOST_SHADE: Final = 0.2
PER_WOBBLE_MM: Final = -16.7
MOST_WOBBLE_MM: Final = 0.2
# for each factor of e
PER_DARKNESS: Final = 1.3
PER_UNLIKE_WIDTH: Final = 2.4
PER_BEND: Final = 1.7
# By so much more than the cut is the lap line other than all pens in darkness, as the natural log
# of a factor: then which is which is open. Of 184 pairs that were sure, 111 of them on papers of
# felt pen, 5 are such, and 3 of these are wrong (of the others, 6); above 0.7, 14 and 4.
MOST_UNLIKE_PEN: Final = 1.0
# Of the lap line's width at its tip, the cut's there. Of 190 pairs that are right 98 in 100 have at
# most 1.1, the rest open cuts; of six that are swapped, in felt pen, all have 1.15 or more.
MOST_WIDER_AT_TIP: Final = 1.2

# sought_cut.py
BESIDE_CHALK_MM: Final = 1.2  # from a lap line's edge, as far as its own blur may reach
# of a cut from its lap line's tip, that it bows by over its length, and from one way to the next
WAY_ASIDE_MM: Final = 1.5
WAY_BENT: Final = 0.035
WAY_STEP_MM: Final = 0.3
WAY_LONG_MM: Final = 200.0  # beyond which ways are looked at in so much longer steps
WAY_LONGEST_MM: Final = 400.0  # of a slit; what is longer is left as it is
WAY_PARTS: Final = 4  # stretches, in each of which the cut's place is told
# to either side of a way, what is looked at and where the cut may be
ABOUT_CUT_MM: Final = 3.0
CUT_STEP_MM: Final = 0.1
NEAR_CUT_MM: Final = 1.0
CUT_BLUR_MM: Final = 0.3  # sigma
CUT_LIKE_CHALK: Final = 0.5  # of how light lines are, more than which a cut is not
CUT_WIDTH_MM: Final = 0.5  # as a closed one looks
LEAST_CUT_SIGMA_MM: Final = 0.15
OVERSHOT_MM: Final = 3.0
