"""A planned way in words and tables. Formats, computes nothing."""

from __future__ import annotations

from steadyband.audit.route import RouteClimb, RoutePlan, Stretch
from steadyband.ground.units import distance_text, duration_text, height_text, length_text, place_text, speed_text
from steadyband.report.common.view import Table
from steadyband.report.common.words import DASH, Loads, counted, number_text

LEFT_OUT = "Wind, stops, bends, traffic and the surface are left out; heights of a planned route may be rough (bridges, tunnels)."


def answer_text(plan: RoutePlan) -> str:
    """Where the band can be held, in one sentence."""
    way = f"{distance_text(plan.length_m)} with {height_text(plan.climbing_m)} of climbing"
    if plan.inside is None:
        return f"{way}: where the hills force the band out is not known yet."
    if not plan.stretches:
        return f"{way}: the band can be held all the way."
    metres = sum(item.length_m for item in plan.stretches)
    what = "walking is the only way to stay in it" if plan.sport != "cycling" else "the hill forces it out"
    out = length_text(metres)
    count = counted(len(plan.stretches), "stretch", "stretches")
    return f"{way}: the band can be held on all but {out} of it, {count} on which {what}."


def notes(plan: RoutePlan, loads: Loads) -> list[str]:
    """What the plan stands on."""
    ceiling, lines = loads.text(plan.ceiling), []
    if plan.missing:
        lines.append(f"Gear, forced stretches and times need {', '.join(plan.missing)} in athlete.toml.")
    elif plan.sport == "cycling" and plan.limit is not None:
        lines.append(
            f"In your lowest gear {100 * plan.limit:.1f} % is the steepest grade you can ride under the ceiling of {ceiling}."
        )
    elif plan.walk_up_to is not None:
        run = "on no grade, not even on the flat" if plan.limit is None else f"up to {100 * plan.limit:.0f} %"
        lines.append(
            f"Running stays under the ceiling of {ceiling} {run}; walking up to about {100 * plan.walk_up_to:.0f} % "
            "(published cost of running and walking, Minetti et al. 2002)."
        )
    return [*lines, LEFT_OUT]


def paces_table(plan: RoutePlan, loads: Loads) -> Table | None:
    """Expected time and speed at the target top and in the middle of the band."""
    if not plan.paces:
        return None
    rows = tuple(
        (pace.name, loads.text(pace.load), duration_text(pace.seconds), speed_text(pace.speed_mps))
        for pace in plan.paces
    )
    return Table("Expected time at a steady load", ("at the", "load", "time", "mean speed"), rows, note=LEFT_OUT)


def stretches_table(plan: RoutePlan) -> Table | None:
    """Where the hill forces the band out, or where to walk."""
    if not plan.stretches:
        return None
    on_foot = plan.sport != "cycling"
    head = ("from", "to", "length", "steepest", "what to do")
    rows = tuple(_stretch_row(item, on_foot, plan) for item in plan.stretches)
    return Table("Where to walk" if on_foot else "Where the hill forces the band out", head, rows)


def _stretch_row(item: Stretch, on_foot: bool, plan: RoutePlan) -> tuple[str, ...]:
    end = item.start_m + item.length_m
    return (
        place_text(item.start_m, 2),
        place_text(end, 2),
        length_text(item.length_m, 2),
        number_text(100 * item.steepest, "%", 1),
        _walk_cell(item, plan) if on_foot else gear_text(item),
    )


def _walk_cell(item: Stretch, plan: RoutePlan) -> str:
    if plan.walk_up_to is not None and item.steepest > plan.walk_up_to:
        return "walk slowly: even a steady walk is over the ceiling"
    return "walk"


def gear_text(item: Stretch) -> str:
    """The gear a stretch needs."""
    if item.too_steep or item.gear_cog is None:
        return "too steep for any gear: walk or take another road"
    return f"needs {item.gear_cog} teeth or more with the smallest chainring (ratio {item.gear_ratio:.2f})"


def climbs_table(plan: RoutePlan) -> Table | None:
    """Every climb on the way."""
    if not plan.climbs:
        return None
    head = (
        "begins at",
        "length",
        "height",
        "mean",
        f"steepest {length_text(plan.steepest_over_m)}",
        "time at target top",
        "out of the band on",
    )
    return Table(f"Climbs ({len(plan.climbs)})", head, tuple(_climb_row(climb, plan) for climb in plan.climbs))


def _climb_row(climb: RouteClimb, plan: RoutePlan) -> tuple[str, ...]:
    return (
        place_text(climb.start_m),
        length_text(climb.length_m, 2),
        height_text(climb.height_m),
        number_text(100 * climb.mean_grade, "%", 1),
        number_text(100 * climb.steepest, "%", 1),
        duration_text(climb.seconds) if climb.seconds is not None else DASH,
        DASH if plan.inside is None else length_text(climb.forced_m, 2) if climb.forced_m else "nowhere",
    )
