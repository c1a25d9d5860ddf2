"""A measure of one's own: the share of hard sets in each week's largest session, as a chart.

    python own_measure.py [WORKSPACE] [CLIENT]

Run it with the Python that setledger is installed in. It opens the database read-only, so it works
while `setledger run` is at work, and writes own_measure.html where it is started.
"""

import sys
from pathlib import Path

import altair as alt
import duckdb
import polars as pl

workspace = Path(sys.argv[1] if len(sys.argv) > 1 else "harbour-lane")
client = sys.argv[2] if len(sys.argv) > 2 else "ines"

# %% The rows: one a session. `setledger describe` says what every table and column means.
with duckdb.connect(str(workspace / "setledger.duckdb"), read_only=True) as con:
    rows = con.execute(
        """
        select day, sum(hard_sets) as hard_sets
        from review.lift_session
        where client_id = ?
        group by day
        order by day
        """,
        [client],
    ).fetchall()
sessions = pl.DataFrame(rows, schema=["day", "hard_sets"], orient="row")

# %% The measure: of a week's hard sets, how many stand in its largest session.
weeks = (
    sessions.group_by(pl.col("day").dt.truncate("1w").alias("week"))
    .agg(
        pl.len().alias("sessions"),
        (pl.col("hard_sets").max() / pl.col("hard_sets").sum()).alias("largest_share"),
    )
    .filter(pl.col("largest_share").is_finite())
    .sort("week")
)
print(weeks.tail(8))  # noqa: T201

# %% The chart: one point a week.
chart = (
    alt.Chart(
        weeks.to_arrow(), title=f"{client}: share of a week's hard sets in its largest session"
    )
    .mark_circle(size=60)
    .encode(
        x=alt.X("week:T", title=None),
        y=alt.Y("largest_share:Q", title="share of hard sets")
        .axis(format="%")
        .scale(domain=[0, 1]),
        color=alt.Color("sessions:O", title="sessions that week"),
    )
    .properties(width=700, height=300)
)
chart.save("own_measure.html", inline=False)
print(Path("own_measure.html").resolve())  # noqa: T201
