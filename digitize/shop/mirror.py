"""The opposite-side part: the same pattern, flipped over."""

from digitize.pattern import Pattern, Point, Side

OPPOSITE: dict[Side, Side] = {"left": "right", "right": "left", "unknown": "unknown"}


def mirrored(pattern: Pattern) -> Pattern:
    """The pattern reflected left to right within its own bounding box; ids stay the same."""
    width = max(x for x, _ in pattern.outline) + min(x for x, _ in pattern.outline)

    def flip(points: tuple[Point, ...]) -> tuple[Point, ...]:
        return tuple((round(width - x, 6), y) for x, y in points)

    scale = pattern.scale
    if scale is not None:
        cards = tuple(
            card.model_copy(update={"centre": flip((card.centre,))[0], "turn_deg": -card.turn_deg})
            for card in scale.cards
        )
        scale = scale.model_copy(update={"cards": cards})
    return pattern.model_copy(
        update={
            "side": OPPOSITE[pattern.side],
            "scale": scale,
            "rectified": None,  # the picture is of this side's paper
            # Reversed, so that the outline still runs counter-clockwise.
            "outline": flip(pattern.outline)[::-1],
            "lines": tuple(
                line.model_copy(
                    update={
                        "points": flip(line.points),
                        "pieces": tuple(
                            piece.model_copy(update={"points": flip(piece.points)})
                            for piece in line.pieces
                        ),
                    }
                )
                for line in pattern.lines
            ),
            "tucks": tuple(
                tuck.model_copy(update={"tip": flip((tuck.tip,))[0]}) for tuck in pattern.tucks
            ),
            "zones": tuple(
                zone.model_copy(update={"boundary": flip(zone.boundary)[::-1]})
                for zone in pattern.zones
            ),
            "notes": tuple(
                note.model_copy(
                    update={
                        "box": (
                            round(width - note.box[2], 6),
                            note.box[1],
                            round(width - note.box[0], 6),
                            note.box[3],
                        )
                    }
                )
                for note in pattern.notes
            ),
        }
    )
