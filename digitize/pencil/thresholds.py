"""Every number by which something is told here, room-wide, under the file that it is for.

Names end in their unit: ``MM``, ``PX``, ``NOISE`` (times the ridge filter's noise on blank paper),
``TURN`` (radians), ``SIGMAS``; what has none of these is a share, a ratio or a count. Of a value
with no source beside it the origin is an own choice, made on the drawn panels and rendered photos
that were looked at, never on those of the benchmarks' unseen halves. What becomes of the marks
where one is half as much, or twice, ``python -m tests.bench thresholds`` says; RESULTS.md keeps it.
Widths of filters and the like, from which nothing is told, stand where they are used.
"""

from typing import Final

import numpy as np

# by_hue.py
HUE_EDGE_MM: Final = 3.0  # of the paper, that is not looked at
HUE_WINDOW_MM: Final = 16.0  # windows by which the paper is known, and how many of them
HUE_WINDOWS: Final = 60
HUE_FINE_MM: Final = 0.25  # sigma: as pencil is wide, and as the ground about it is
HUE_WIDE_MM: Final = 2.0
HUE_QUIET: Final = 3.0  # sigmas of the grain, beyond which is what was drawn
HUE_FEWEST: Final = 100  # places that are quiet: of fewer nothing is told
HUE_ALONE: Final = 1e-3  # of the grain's scatter, that each colour has by itself at the least
HUE_LEAST_GAIN: Final = 1.2  # of how dark pencil is over the grain
HUE_LEVEL: Final = 0.4  # light of the paper in the picture made

# crossed.py
LEG_MM: Final = (4.0, 25.0)  # length of a stroke, or of a zigzag's leg
OVER: Final = 0.2  # of its length, that a stroke runs past the line on either side
STRUCK_ACROSS: Final = np.radians(25.0)  # off the line's way, at least
# from their middling turn; the length over the middling
STRUCK_ALIKE_TURN: Final = np.radians(15.0)
STRUCK_ALIKE: Final = 0.5
# Off square to the line, or from a zigzag's other legs; sloped letters are off by 15 (ISO 3098).
ASLANT: Final = np.radians(18.0)
# from one to the next along the line, over their length; a zigzag's less
APART: Final = (0.35, 1.5)
# strokes, and legs of a zigzag: letters have up to four
STRUCK_FEWEST: Final = 4
LEAST_LEGS: Final = 5
# as a share of all that cross the line, and of the lengths of all that stand there
STRUCK_MOST: Final = 0.75
JOINED_MM: Final = 2.5  # from the end of a zigzag's leg to the next one's
LEAST_LINE: Final = 2.0  # times as long as what strikes it out
HEADING_MM: Final = 1.5
STRUCK_TOUCH_MM: Final = 1.0

# curves.py
CREST_SIGMA_MM: Final = 0.12  # scatter of a crest point about the line's middle
PLACE_SIGMA_MM: Final = 0.03  # what no picture shows: the pencil's own edge, the paper's stretch
LEAST_TWO_SIDED: Final = 0.55
CURVE_TWO_SIDED: Final = 0.45
SURE_NOISE: Final = 12.0
END_SHARE: Final = 0.35
# beyond a mark's side, and off a thin one's middle
CURVE_GROUND_MM: Final = 0.8
NEAR_GROUND_MM: Final = 1.3
END_POINTS: Final = 12  # of a curve, to tell where it ends
SETTLED_MM: Final = 0.25

# dash_rows.py
GAP_POINTS: Final = 12
DASH_ROW_CROSSING_MM: Final = 30.0
DASH_ROW_ACROSS_MM: Final = (-1.5, -0.2, 0.0, 0.2, 1.5)

# even_rows.py
TICK_MM: Final = (3.0, 25.0)
# of its chord: how far a tick may lie off it, beside how grain leads a trace
ROW_STRAIGHT: Final = 0.1
GRAIN_MM: Final = 0.3
ROW_FREE_MM: Final = 1.5  # from any other mark: what touches one is part of it
CRUMB: Final = 0.5  # of its length
# from tick to tick: every 10 to 40 mm, unevenly, and one or two unseen
ROW_STEP_MM: Final = (8.0, 90.0)
FIRST_MM: Final = 45.0  # between the two ticks that an even row is sought from
STEPS_APART: Final = 1.15  # from tick to tick in an even row, over a tick's length
ROW_ALIKE: Final = 0.45  # the shorter of two ticks over the longer
# of a step: how far on from where the row leads a mark may stand, or short of it
AHEAD: Final = 0.35
NEAR: Final = 0.3  # of that: nearer is no better
MOST_SKIPPED: Final = 2  # ticks unseen between two
ROW_FEWEST: Final = 5
MOST_BY_CHANCE: Final = 1e-4

# faint_ticks.py
# shorter ones of the paper's own fibres are many, and lie as in rows
FAINT_TICK_SHORTEST_MM: Final = 4.0
FAINTEST_NOISE: Final = 4.0  # as much as crests are told by, and a little

# fair.py
FAIR_STEP_MM: Final = 1.0
LEAST_SIGMA_MM: Final = 0.012
OUTLIER: Final = 3.5
OUTLIER_WEIGHT: Final = 0.1
FEWEST_FOR_SPLINE: Final = 6
CORNER_TURN: Final = np.radians(25.0)
HOPELESS: Final = 100.0  # times the limit: no descent makes an arc of that
SETTLED: Final = 0.98  # of the squares before: nor of what falls no further, and is over the limit
CHI_MARGIN: Final = 2.0  # standard deviations of chi squared that a simpler curve may be over

# gaps.py
FEWEST_DASHES: Final = 4
LONGEST_DASH_MM: Final = 40.0
GAP_DASH_GAP_MM: Final = 8.0
LEAST_DASH_GAP_MM: Final = 0.8
GAP_UNEVEN: Final = 0.35  # standard deviation over mean
CLASSES_NOISE: Final = (35.0, 15.0)  # strengths; fainter strokes leak over no gap
LEAST_LAP_MM: Final = 1.2
BESIDE_LAP_MM: Final = 1.5
# of a line's darkness, and darkness, left under tape
COVERED_SHARE: Final = 0.07
COVERED_LEAST: Final = 0.02
GAP_SAMPLE_MM: Final = 0.3

# handwriting.py
NOTE_EDGE_MM: Final = 1.5  # of paper that is shown round the writing
PEN_MM: Final = 0.2  # what is finer than a pencil's point is grain, and smoothed away
GRAIN_SIGMAS: Final = 2.0  # what lies within the paper's own grain is white
MARK_SIGMAS: Final = 4.0  # and what lies so far beyond it is a mark
SPACE: Final = 0.8  # of a letter's size, to the next one
WORDS_APART: Final = 2.2  # the same, to the next word on a line
ONE_LINE: Final = 1.3  # of a letter's size, so long that it is known which way the words run
# times a letter known: a full stop, and the largest sign of its kind
DOT: Final = 0.12
LETTER: Final = 1.8
WORD: Final = 6.0  # times the writing's height, how far it is looked for to either side
GRAIN_MM2: Final = 0.3  # smaller marks are none
NOTE_LINE_MM: Final = 1.0  # what lies so near to a line is of that line
DARK_PERCENTILE: Final = 90.0  # of what is darker than grain: as dark as the pencil gets, and black

# hatching.py
# length, and its chord over it
STROKE_MM: Final = (5.0, 80.0)
HATCH_STRAIGHT: Final = 0.97
HATCH_BESIDE_MM: Final = (1.2, 10.0)  # from a stroke to the next
HATCH_ALIKE_TURN: Final = np.radians(12.0)
OVERLAP: Final = 0.4  # of the shorter's length, that lies beside the longer
CLOSE: Final = 0.6  # from stroke to stroke, over the longer's length: ticks stand farther apart
# the middling step over the middling length: letters' strokes stand farther apart
FILLS: Final = 0.35
HATCH_FEWEST: Final = 5
HATCH_WIDEST_MM: Final = 7.0  # the middling step: lines of the panel lie farther apart
# of the lengths of all that lies in the area, lines that run through it aside
HATCH_MOST: Final = 0.75
# scatter of the steps over the middling one; where one was not seen, of half
HATCH_UNEVEN: Final = 0.35
# share within the area of what is left of its strokes
REST: Final = 0.8
REST_TURN: Final = np.radians(25.0)
HATCH_ROUND_MM: Final = 1.0  # by which an outline may be made simpler

# ink.py
PAPER_LIGHT: Final = 0.6  # of a paper in its brightest colour, taken to be that of white paper
INK_REACH_MM: Final = 2.2
INK_STEP_MM: Final = 0.2
PAPER_MM: Final = 1.8
INK_LEAST_MM: Final = 0.12  # of the paper's own light: with less missing there is no colour to tell
PLAINLY: Final = 0.3  # of the way from black's direction to the ink's own

# lighter.py
# of darkness, and times what blank paper varies by, to be a mark
LEAST: Final = 0.12
CERTAIN: Final = 6.0
BLUR_MM: Final = 0.5  # over which a mark is seen to be one
MARK_MM: Final = 8.0  # from end to end, of a mark that no speck in the paper is as long as
# times as much that is light as is dark, where pencil is lighter than its paper
LIGHT_MOSTLY: Final = 3.0
LEAST_SHARE: Final = 0.0005  # of the paper that is marked at all
LIGHT_CELL_MM: Final = 0.5  # in which gaps are looked for
# a gap reaches the paper's edge; the floor next to that
LIGHT_EDGE_MM: Final = 2.5
FLOOR_MM: Final = 20.0
LIGHT_GROUND_MM: Final = 6.0  # over which the paper's own hue is told
LIGHT_GROUND_CELLS: Final = 4  # a pixel of the grid on which it is
LIGHT_ALL_PAPER: Final = 252  # of 255, in a cell that is paper
# between floor and paper, log; of the way, to be floor
LEAST_HUE: Final = 0.1
FLOOR_SHARE: Final = 0.5
# of a gap: into the paper, and on the mean across
LEAST_REACH_MM: Final = 12.0
LIGHT_WIDEST_MM: Final = 5.0
GAP_DARKNESS: Final = 0.7  # of a closed cut, as cuts in photos have it

# profile.py
BLOCK_MM: Final = 2.0  # a place is measured on so much of a line
ROWS: Final = 5  # profiles to a block
PROFILE_REACH_MM: Final = 3.2
OFFSET_STEP_MM: Final = 0.1
# a mark so wide has its foot and its ground farther off
BROAD_MM: Final = 2.6
BROAD_REACH_MM: Final = 5.0
BLUR_SIGMA_PX: Final = 0.9  # of raster and lens together
SEARCH_MM: Final = 0.8
WIDE_MM: Final = 1.2
LEAST_WIDE_MM: Final = 10.0
# of a block, of a band; of single blocks
SOME_LEAN: Final = 0.1
LEAST_LEAN: Final = 0.08
LEAN_SCATTER: Final = 0.24
END_BLOCKS: Final = 5
GROUND_BLOCKS: Final = 4.0
PROFILE_LEAST_STEP: Final = 0.15
BARE_MM: Final = (0.3, 1.1)  # beyond a mark's foot, where its ground is looked at
EDGE_BLOCKS: Final = 9
WANDER_BLOCKS: Final = 1.0
# the farther beside a broad mark
FLANK_MM: Final = (0.6, 2.2)
FAR_FLANK_MM: Final = (2.2, 3.2)
STILL_DARK: Final = 0.25  # of the middle's darkness
SHEEN_REACH_MM: Final = 2.4
CREASE_SHEEN: Final = 0.35

# repair.py
SKIP_MM: Final = 6.0
HIDDEN_MM: Final = 5.0
COVERED_MM: Final = 16.0  # under tape, say
TRACE_OF_PENCIL: Final = 0.25  # darkness left in a gap, over the stroke's own
REPAIR_LONG_MM: Final = 15.0  # shorter strokes may be specks, and cross nothing
# a stem seems to run on past its bar by what the filter leaks, and a little more
STEM_MM: Final = 3.4
SKIP_TURN: Final = np.radians(8.0)
AIMS_MM: Final = (5.0, 12.0)  # the longer sees past the bend that a stem leaves in its bar
TURN_LIMIT: Final = np.radians(24.0)
WINDOW_MM: Final = 6.0
LEAK_MM: Final = 3.2  # how far the ridge filter sees a stroke past its end
REPAIR_AIM_MM: Final = 18.0  # how much of a stroke's end says where it is heading
FAN: Final = np.radians(np.linspace(-5, 5, 11))
FADED_NOISE: Final = 2.4  # mean strength over a window, in units of the noise on blank paper
STRONG_NOISE: Final = 15.0
LEAST_AIM_MM: Final = 12.0
OWNED_MM: Final = 0.6
MOST_OWNED: Final = 0.4
REPAIR_NEIGHBOURS: Final = 24
DOUBLE_MM: Final = 0.9
ALONGSIDE_MM: Final = 1.5
MOSTLY_ALONGSIDE: Final = 0.85
REPAIR_TWO_SIDED: Final = 0.35
EDGE_SHARE: Final = 0.4
# of a mark's darkness; dashes are of SHORTEST_MM and more
REPAIR_MOSTLY: Final = 0.8
REPAIR_SPECK_MM: Final = 2.5
COMPANY_MM: Final = 6.0  # from a letter's stroke to the next one's

# ridges.py
COARSE_MM: Final = 0.5  # in which it is told of what kind a paper's marks are
DETAIL_MM: Final = 0.4
# suit lines of 0.3 to 1.2 mm, and of 1.2 to 3 mm
NARROW_SIGMA_MM: Final = 0.4
WIDE_SIGMA_MM: Final = 0.95
WIDE_MARGIN_MM: Final = 1.3
# of a felt pen or crayon: 2.6 to 5 mm
BROAD_SIGMA_MM: Final = 1.8
BROAD_MARGIN_MM: Final = 2.6
BROAD_LONG_MM: Final = 25.0
SOLID: Final = 0.7  # of the darkest close by: a single mark is so dark at its middle, a pair is not
GROUND_SIGMA_MM: Final = 5.0
EDGE_MARGIN_MM: Final = 0.9
FOLLOW_NOISE: Final = 3.5

# rings.py
RADIUS_MM: Final = (20.0, 60.0)  # of mugs' and tins' feet; common practice, no source
# than the middling mark of the paper, of its width and its darkness
BROADER: Final = 2.0
HALF_BROADER: Final = 1.5
PALER: Final = 0.6
LEAST_ARC_MM: Final = 40.0  # of the mark that tells the circle
RING_ROUND_MM: Final = 0.2  # RMS of a mark off its circle: a foot's is rounder than a hand draws
RING_ROUNDER_MM: Final = 0.1  # the same, of a mark as dark as the lines
# of a mark from its circle, and with how much of it
OFF_MM: Final = 2.0
RING_MOSTLY: Final = 0.9
# of the circle that is there
AROUND: Final = 0.5
SECTORS: Final = 36

# ruled.py
# marks that may show that there is print; that may be part of it
PRINT_LONG_MM: Final = 40.0
SHORT_MM: Final = 8.0
PRINT_STRAIGHT: Final = 0.985  # chord over length: a sheet that is not quite flat bends its print
SAME_WAY: Final = np.radians(6.0)
LIKE_WEIGHT: Final = 2.0  # times the usual weight of the print, or one over it
PRINT_FEWEST: Final = 8
PRINT_ON_MM: Final = np.array([-0.2, 0.0, 0.2])
OVER_PAPER: Final = 0.4  # of its area: the hull of the print's long marks
SPACINGS_MM: Final = np.arange(3.0, 12.01, 0.1)
MOST_STEPS: Final = 4.0  # a gap of more spacings tells little of them
IN_STEP: Final = 0.15  # of the spacing
PRINT_BY_CHANCE: Final = 0.01  # spacings that as many gaps fit as well by chance
PRINT_MOSTLY: Final = 0.75  # of the gaps between neighbours; of any, 0.3 are in step by chance

# signs.py
RING_MM: Final = (3.0, 20.0)  # radius of a circle that a number is written in
ROUND: Final = 0.15  # deviation of the radius over its mean
# off a circle through one or two of its pieces, over the radius: its others, before all are judged
OF_RING: Final = 0.3
# A ring's piece, at the mean, from the way round: an oval half as long again as wide by 14 degrees.
OFF_ROUND: Final = np.radians(25.0)
# A box's rounded side turns into the next by less, and the line that leads to a circle by more.
GOES_ON_TURN: Final = np.radians(60.0)
HEADING_POINTS: Final = 3  # that tell which way an end heads
# of a ring's radius, by which a box's side leaves a chord as long as that
SIDE_SHARE: Final = 0.05
OPEN: Final = 0.2  # of its length: how far a hand's circle may be from closing
FEWEST_WITHIN: Final = 2  # a number's strokes, or a number and what grain leaves of it
ONE_WITHIN: Final = 0.5  # of the radius: as long is a number of one stroke
LEAST_ARC: Final = np.radians(60.0)  # of a circle's piece, to tell the others
# of the radius, clear of the circle's own stroke, where a number untraced is looked for
WELL_WITHIN: Final = 0.7
INK_CELL_MM: Final = 0.25
ALIKE_ROUND: Final = 0.8  # of a cross's or dot's ink, that a quarter turn lays on itself
# length of an arrow's shaft, and its chord over its length
SHAFT_MM: Final = (8.0, 80.0)
SIGN_STRAIGHT: Final = 0.8
# length of a barb, mm at least, and of the shaft's at most
BARB_MM: Final = 2.5
BARB_SHARE: Final = 0.6
LIKE_BARB: Final = 0.5  # the shorter over the longer
BARB_TURN: Final = (np.radians(10.0), np.radians(65.0))  # back from the way the arrow points
AT_TIP_MM: Final = 2.5
# an arrow's head, of which something was not traced: from its tip to its barbs' ends; the shaft
# that tells which way it points; beyond the shaft's side; how far out at least; what is a speck
HEAD_MM: Final = 10.0
HEAD_POINTS: Final = 15
# Of a shaft's darkness, its barbs', tried one by one; and sigmas of the paper, that is plain there.
# Of ten arrows of felt pen with untraced barbs six show so; at 0.18 ends of lines look like heads,
# and by the paper's median a squared sheet's print does.
HEAD_SHARES: Final = (1 / 2, 1 / 3, 1 / 4)
HEAD_PLAIN: Final = 3.0
CLEAR_OF_SHAFT_MM: Final = 0.5
LEAST_OUT_MM: Final = 1.0
STRAY_MM2: Final = 1.0
# an arrow that comes from a line is drawn as one; at what it only points at it is a note
SIGN_FREE_MM: Final = 6.0
SIGN_LINE_MM: Final = 15.0

# sought_ticks.py
# Of a step: how far on from where a row foretells a tick its middle may lie, or short; and aside.
SOUGHT_AHEAD: Final = 0.35
SOUGHT_ASIDE: Final = 0.15
# Beyond that, that a tick's middle may lie as its pencil shows it: the end of an untraced line lay
# 2.7 mm out, ticks up to 1.5 and more; of half as much, one paper of 39 loses ticks.
SOUGHT_OUT_MM: Final = 2.5
SOUGHT_APART: Final = 0.5  # of a step, from any other tick
SOUGHT_SHARE: Final = 0.8  # of a middling tick's length, that is sought
# Of the length that is sought: specks and blots that score enough show 0 to 0.46 of it, ticks 0.6
# and more, on 20 papers.
SOUGHT_SHORTEST: Final = 0.5
SOUGHT_LEAST_WIDTH_MM: Final = 0.5
SOUGHT_BESIDE_MM: Final = 5.0  # clear of the ticks, where bare paper is looked at
SOUGHT_AT_ONCE: Final = 4  # places that are looked at together
SOUGHT_NEAR_MM: Final = 1.5  # of where a tick was traced it is looked at again
SOUGHT_PALE: Final = 1 / 3  # of the middling tick's score: what has less is none by that alone
# False ticks that are to be expected on a paper; how often bare paper may show as much as one of
# them, and as one of several together.
SOUGHT_BY_CHANCE: Final = 0.05
SOUGHT_RARE: Final = 0.02
SOUGHT_SHOWN: Final = 0.1
# blank windows that tell what chance scores, at least and at most
SOUGHT_FEWEST_BLANK: Final = 40
SOUGHT_MOST_BLANK: Final = 200
SOUGHT_ROUNDS: Final = 30  # of which each adds ticks to a row's end

# tick_bars.py
BAR_LEANS: Final = np.radians(np.linspace(-24.0, 24.0, 9))  # off square to the row
BAR_CELL_MM: Final = 0.25
BAR_GROUND_MM: Final = (0.4, 1.4)  # beyond its side, where its ground is looked at
BAR_PLAIN: Final = 1.5  # times a middling tick's darkness: what is darker counts as that
BAR_CLEAR_MM: Final = 1.0  # so near to another mark it is that mark that is seen
BAR_HIDDEN: Final = 0.4  # of a window, that other marks may hide

# tick_middles.py
MIDDLES_BEYOND_MM: Final = 3.5  # a trace's end, that more of the tick is looked for
MIDDLES_CLEAR_MM: Final = 2.0  # and from where bare paper's grain is told
MIDDLES_BODY: Final = 0.8  # of what was traced: it is surely the tick
# Of the grain: as much pencil is the tick's yet. Of a tick's own darkness: no less, and no more.
MIDDLES_GRAIN: Final = 2.0
MIDDLES_LEAST_SHARE: Final = 0.15
MIDDLES_MOST_SHARE: Final = 0.6
# Sigma of a middle whose tick is only as much darker than its ground as grain scatters: the
# likeliest on 20 papers with 1,279 ticks is 2.4, on 19 others with 1,129 it is 2.6.
MIDDLES_DOUBT_MM: Final = 2.5
MIDDLES_MOST_DOUBT_MM: Final = 4.0  # half a tick
MIDDLES_SWAY_MM: Final = 0.3  # of a tick to either side of its chord
MIDDLES_GROUND_ALONG_MM: Final = 5.0
MIDDLES_BLOT_MM: Final = 1.0  # along a tick, over which a blot beside it is told

# tick_courses.py
# How far a hand sets a tick's middle off the line (an own estimate, no source), and how many ticks
# that counts for beside those there are.
MIDDLE_SIGMA_MM: Final = 0.5
ESTIMATE_TICKS: Final = 3
# How a course bends over how its ticks scatter: values that are tried, what is usual (6 to 14 on
# the seven papers with ticks that were looked at), and by which factor that may well be off.
BENDS: Final = np.geomspace(0.5, 200.0, 17)
USUAL_BEND: Final = 10.0
BEND_FACTOR: Final = 4.0
# of Student's distribution, which has as many far-off values as ticks' middles
FREEDOM: Final = 4.0
ROUNDS: Final = 8
COURSE_STEP_MM: Final = 1.0

# ticks.py
# off square to the row; from the next
TICK_ACROSS: Final = np.radians(35.0)
TICK_ALIKE_TURN: Final = np.radians(35.0)
TICK_ALIKE: Final = 0.4  # the shorter of two ticks over the longer
# between two alike steps; the longer over the shorter
BEND: Final = np.radians(25.0)
TICK_UNEVEN: Final = 3.3
TICK_FEWEST: Final = 4
ON_TICK_MM: Final = 1.0  # so near to its middle a mark is that tick
# A mark as long as that between two ticks breaks the line, and so near to its end yet.
TICK_CROSSING_MM: Final = 30.0
TICK_LOOK_MM: Final = 0.25  # step by which one is looked for along its row
TICK_TIP_MM: Final = 2.0

# trace.py
LINK_MM: Final = 0.9
LINK_TURN: Final = np.radians(30.0)
OWN_TURN: Final = np.radians(15.0)
ASIDE_MM: Final = 0.35
TRACE_AIM_MM: Final = 5.0  # how much of a stroke's end says where it is heading
# A faint stroke is believed when it is long; strengths in units of the noise on blank paper.
PLAIN_NOISE: Final = 10.0
FAINT_NOISE: Final = 5.0
FAINT_LENGTH_MM: Final = 30.0
TRACE_SHORTEST_MM: Final = 3.0
KINK_MM: Final = 2.4
KINK_TURN: Final = np.radians(28.0)
KINK_POINTS: Final = 2
TRACE_SPECK_MM: Final = 1.6
DASH_MM: Final = 9.0
TRACE_DASH_GAP_MM: Final = 4.5
DASH_NOISE: Final = 6.0
ROW_MM: Final = 5.0
ROW_GAP_MM: Final = 10.0
ROW_TURN: Final = np.radians(9.0)
ROW_AIM_MM: Final = 10.0
FEWEST_IN_ROW: Final = 4  # strokes of ROW_MM or more
TRACE_CROSSING_MM: Final = 2.4  # a crossing line hides another for so long

# unfollowed.py
# the mean of what runs within such a turn of a line so long, no place counting for more than so
# much: blank paper's is under 1.8 but for some short runs (seen on paper by paper, and grain)
UNFOLLOWED_SHRINK: Final = 2  # pixels a side, of which the strongest counts
UNFOLLOWED_OVER_MM: Final = 12.0
UNFOLLOWED_TURN: Final = np.radians(20.0)
UNFOLLOWED_TURNS: Final = 16
UNFOLLOWED_MOST: Final = 5.0
UNFOLLOWED_NOISE: Final = 1.8
UNFOLLOWED_LEAST_MM: Final = 50.0
UNFOLLOWED_FEWEST_MM: Final = 100.0  # of all of them: grain alone makes a run of 40 to 50 mm
UNFOLLOWED_APART_MM: Final = 3.0  # from lines that were followed

# visibility.py
MOSTLY_FAINT: Final = 0.5  # of the paper, from which on pencil is told by its hue too
MUCH: Final = 1.25  # times less of a line to be seen: so much is laid to burnt paper or blur
# and the share of a cell that has to be paper
SEEN_CELL_MM: Final = 10.0
LEAST_PAPER: Final = 0.2
SEEN_LEAST_MM: Final = 30.0  # a smaller area, squared, hides no line worth a word
LEAST_BLUR_MM: Final = 60.0  # focus changes slowly over a picture: what is less is something else
SEEN_LINE_MM: Final = 0.5  # an HB lead's
# Of a hard lead, or one that is hardly pressed: it gives back 6/7 of the light that paper does.
# Common practice, no source.
FAINT_DARKNESS: Final = 0.15
WEAK_PERCENT: Final = 16.0
# times what is needed: where lines' weak places have less, fainter ones may be there unfollowed
NEARLY_UNSEEN: Final = 2.0
SEEN_BEST: Final = 0.9  # of a paper's cells that are seen less well than these
UNFOLLOWED_RIM_MM: Final = 4.0  # of the paper, where the edge's own shadow looks like a line
FEWEST_MM: Final = 100.0  # of strokes that are no specks: fewer say nothing of the usual one
SEEN_ALONG_MM: Final = 10.0  # burnt out itself, and no pencil; a curve's points are a mm apart
BURNT_LEVEL: Final = 253
BURNT_SHARE: Final = 0.1
SAME_BURNT: Final = 0.01
# light, white as 1, and as a share of the paper's: less is called dark
DARK: Final = 0.1
SHADED: Final = 0.5
EDGE_STEP_MM: Final = 5.0
EDGE_ROWS: Final = 5
EDGE_REACH_MM: Final = 8.0
PLATEAU_MM: Final = 5.0
SLOPE_MM: Final = 1.0
SEEN_ACROSS_MM: Final = 0.2
SEEN_LEAST_STEP: Final = 12.0  # levels between paper and floor
UNSURE_MM: Final = 5.0  # so near to a stretch of the outline that is not borne out
SEEN_NEIGHBOURS: Final = 16  # places that are asked for the blur at a cell
# further off they tell nothing; nearer, better than grain
NEAR_MM: Final = 120.0
SURELY_NEAR_MM: Final = 20.0
QUIET: Final = 0.7  # of the usual grain: so much less is no chance

# writing.py
WRITING_SAMPLE_MM: Final = 0.3
TURN_MM: Final = 1.0
WRITING_ON_MM: Final = (-0.2, 0.0, 0.2)
# off a mark, as far as a small letter's other strokes
WRITING_BESIDE_MM: Final = (2.0, 2.5, 3.0, 3.5, 4.0, 4.5)
USUAL: Final = 0.7  # quantile of a mark's darkness along it
# of that: what shows no pencil, and what is as good as the mark
BARE: Final = 0.25
DARK_BESIDE: Final = 0.35
# deviation over mean of the darkness; of 95 in 100 strokes through letters over 0.65
EVEN: Final = 0.35
# beyond, nothing more is told
MOST_UNEVEN: Final = 1.5
MOST_TURNING: Final = 0.2
WIDTHS_MM: Final = (0.2, 3.0)
WRITING_TOUCH_MM: Final = 2.0
LEAST_GAP_MM: Final = 1.0  # of bare paper, over which a line may have been traced on to writing
SURE_LINE: Final = 0.4  # a line lost is worse than writing drawn: of two doubts, the line
# By itself, and at the end of another. Arrows between boxes are 9.3 mm and more; of 32 papers two
# have a false line of 7 to 8.5 mm.
SHORTEST_LINE_MM: Final = 8.5
SHORTEST_PART_MM: Final = 5.0
LINKED_ENOUGH: Final = 0.5
ALONG_LINE_MM: Final = 2.5
FEWEST_MARKS: Final = 3  # or one as long as LONG_ENOUGH_MM
# between marks of one piece, of the smaller's size
GAP_SHARE: Final = 0.6
GAPS_MM: Final = (4.0, 30.0)
SMALLEST_LETTER_MM: Final = 6.0
TALLEST_MM: Final = 60.0
# Of letters of one word: least over largest, and of the size, from one to the next. At 0.8 of it a
# number was none of its word where a space is between (30 false lines on 66 papers, 21 at 1).
LIKE_SIZE: Final = 0.4
LETTER_GAP: Final = 1.0
MOST_STROKES: Final = 8  # of a letter, cut where it turns
FEWEST_STROKES: Final = 5  # of a word of tall letters, which are never all one stroke each
LONG_ENOUGH_MM: Final = 20.0  # what a mark ends at tells most if it is as long
