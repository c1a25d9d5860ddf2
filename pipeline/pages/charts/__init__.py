"""From frames to drawings: the only place that knows Altair, one theme for every chart."""
