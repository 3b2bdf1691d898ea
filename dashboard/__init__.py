"""The dashboard: records of the studies on pages, in the browser of this computer."""
